"""`python -m impose` is the command `impose`."""

try:
    from impose.cli import main
except KeyboardInterrupt:  # so early that nobody is there yet to say so
    raise SystemExit(130) from None

main()
