"""How many requests one caller may make."""

import threading
from collections import OrderedDict

_CALLERS = 10_000


class Rate:
    """A bucket per caller that fills at a steady rate.

    Parameters
    ----------
    per_second : float
        Requests that a caller may make on average [1/s]; 0 for no limit.
    burst : float
        Requests that may come at once.
    """

    def __init__(self, per_second: float, burst: float) -> None:
        self._per_second = per_second
        self._burst = max(1.0, burst)
        self._guard = threading.Lock()
        # caller -> (requests left, when that was counted [s])
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait(self, caller: str, now: float) -> float:
        """Take one request and return 0, or the time to wait for it [s].

        Parameters
        ----------
        caller : str
            Owner or address.
        now : float
            Time of a clock that never goes back [s].
        """
        if self._per_second <= 0.0:
            return 0.0
        with self._guard:
            left, since = self._buckets.pop(caller, (self._burst, now))
            left = min(self._burst, left + (now - since) * self._per_second)
            is_allowed = left >= 1.0
            self._buckets[caller] = (left - 1.0 if is_allowed else left, now)
            while len(self._buckets) > _CALLERS:  # the longest silent one has a full bucket anyway
                self._buckets.popitem(last=False)
            return 0.0 if is_allowed else (1.0 - left) / self._per_second
