// Sorts the table of sheets by the column whose button is pressed; pressed again, the other way.
const table = document.querySelector(".sheets");
const body = table.tBodies[0];
const heads = [...table.tHead.rows[0].cells];

function compare(one, two) {
  const numbers = [Number(one), Number(two)];
  return numbers.some(Number.isNaN) ? one.localeCompare(two, undefined, { numeric: true }) : numbers[0] - numbers[1];
}

heads.forEach((head, column) => {
  head.querySelector("button").addEventListener("click", () => {
    const way = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of heads) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
    const key = (row) => row.cells[column].dataset.sort;
    body.append(...[...body.rows].sort((one, two) => way * compare(key(one), key(two))));
  });
});
