"""What does each cell carry, and is that within its rating?"""

from importlib.metadata import version

VERSION = version("percell")
