"""Draw the pictures of docs/outputs.md from the demo sheet."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from unroll.disk.sheets import load_sheet
from unroll.job import Job
from unroll.show.figures import arm_pictures, models_of

HERE = Path(__file__).parent
PICTURES = {"arm": "outputs_arm.png", "heat outer": "outputs_heat.png"}
WIDEST = 700  # keeps a shaded picture under 200 kB


def main() -> None:
    result = Job(load_sheet(HERE.parent / "meshes" / "demo.toml")).shapes()
    arm = result.arms[0]
    drawn = arm_pictures(result, arm, models_of(result, arm)[0])
    (HERE / "pictures").mkdir(exist_ok=True)
    for name, file_name in PICTURES.items():
        picture = Image.open(io.BytesIO(drawn[name].content)).convert("RGB")
        if picture.width > WIDEST:
            picture = picture.resize((WIDEST, round(picture.height * WIDEST / picture.width)))
        picture.save(HERE / "pictures" / file_name, optimize=True)


if __name__ == "__main__":
    main()
