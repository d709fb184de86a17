"""What does each cell carry, and is that within its rating?"""

import os
from importlib.metadata import version

VERSION = version("percell")

# NumPy's linear algebra starts a thread per processor, which spins for a while. No formula here
# multiplies matrices large enough to gain from it. NumPy reads this on import, so set it first.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
