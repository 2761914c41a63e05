from collections import OrderedDict
from threading import Lock
from typing import Generic, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")


class CachedTexts(Generic[Key, Value]):
    """The values used last, for the threads of one process. For values their key determines."""

    def __init__(self, most: int):
        self.most = most
        self._kept: OrderedDict[Key, Value] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Key) -> Value | None:
        with self._lock:
            if key not in self._kept:
                return None
            self._kept.move_to_end(key)
            return self._kept[key]

    def put(self, key: Key, value: Value) -> None:
        with self._lock:
            self._kept[key] = value
            if len(self._kept) > self.most:
                self._kept.popitem(last=False)

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()
