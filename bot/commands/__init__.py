"""The command line: one file a command; here, what they share."""

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]
else:
    Commands = object


class UsageError(Exception):
    """The command cannot do what was asked. The text is one clear line."""
