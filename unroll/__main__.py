"""Where the program begins, as `unroll` and as `python -m unroll`.

Every worker loads this module anew, so that only the program itself loads the commands.
"""


def main() -> None:
    """Run the commands."""
    from unroll import cli

    cli.main()


if __name__ == "__main__":
    main()
