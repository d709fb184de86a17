"""What does each cell carry, and is that within its rating?"""

import os
from importlib.metadata import version

VERSION = version("percell")

# NumPy's linear algebra starts a thread for each processor as it loads, which spins for a while. No
# relation here multiplies matrices that are worth it. Read as NumPy loads, so it is said before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
