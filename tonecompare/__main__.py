"""``python -m tonecompare``: the same as the ``tonecompare`` command."""

from tonecompare.cli import main

if __name__ == "__main__":
    main(prog_name="tonecompare")
