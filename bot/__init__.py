"""The bot: everything with a clock, a file, a chat or a word in it. The farm's questions themselves are in `rules`."""

import os

# numpy reads this when it is imported. The herd's matrices are small: several threads make them four times slower on
# two cores, and a sum that is split by the number of cores need not be the same to the last digit on another machine.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
