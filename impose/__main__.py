"""`python -m impose` is the command `impose`, and so is the script that the package installs."""

import gc


def start_command() -> None:
    """Load the command line and run it."""
    gc.disable()  # nothing of what is loaded now is garbage; the command line has it looked for again
    try:
        from impose.cli import main
    except KeyboardInterrupt:  # so early that nobody is there yet to say so
        raise SystemExit(130) from None
    main()


if __name__ == "__main__":
    start_command()
