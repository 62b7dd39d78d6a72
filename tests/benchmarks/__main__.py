"""`make bench`: every benchmark, one after the other, each with its parts."""

import os

# One thread, as in the workers; must be set before numerical libraries load.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

from tests.benchmarks import dispatch, driver_memory, field, models, watchers  # noqa: E402

if __name__ == "__main__":
    models.main()
    field.main()
    driver_memory.main()
    dispatch.main()
    watchers.main()
