# ruff: noqa: ARG002, D102, PTH101, PTH102, PTH105, PTH106, PTH108, PTH118, PTH208  named by the library; texts as paths
"""A file system of our own that is slow on purpose: it hands everything on to a folder, and takes its time to sync.

Usage: slow_disk.py FOLDER PLACE DELAY, with the library mfusepy and /dev/fuse. DELAY is a file that holds the seconds
which each fsync takes, read anew every time; so a disk can become slow, and quick again, under a running program.
"""

import os
import sys
import time
from pathlib import Path

from mfusepy import FUSE, Operations


class SlowDisk(Operations):
    """One operation at a time, as on one disk."""

    use_ns = True

    def __init__(self, folder, delay):
        self.folder, self.delay = folder, Path(delay)

    def _there(self, path):
        return os.path.join(self.folder, path.lstrip("/"))

    def getattr(self, path, fh=None):
        found = os.lstat(self._there(path))
        names = ("st_mode", "st_nlink", "st_uid", "st_gid", "st_size", "st_blocks")
        times = {f"st_{name}": getattr(found, f"st_{name}_ns") for name in ("atime", "mtime", "ctime")}
        return {name: getattr(found, name) for name in names} | times

    def readdir(self, path, fh):
        return [".", "..", *os.listdir(self._there(path))]

    def create(self, path, mode, fi=None):
        return os.open(self._there(path), os.O_RDWR | os.O_CREAT | os.O_TRUNC, mode)

    def open(self, path, flags):
        return os.open(self._there(path), (flags & ~(os.O_ACCMODE | os.O_APPEND)) | os.O_RDWR)

    def read(self, path, size, offset, fh):
        return os.pread(fh, size, offset)

    def write(self, path, data, offset, fh):
        return os.pwrite(fh, data, offset)

    def fsync(self, path, datasync, fh):
        time.sleep(float(self.delay.read_text()))
        os.fsync(fh)
        return 0

    def truncate(self, path, length, fh=None):
        os.truncate(self._there(path), length)

    def release(self, path, fh):
        os.close(fh)

    def unlink(self, path):
        os.unlink(self._there(path))

    def rename(self, old, new):
        os.replace(self._there(old), self._there(new))

    def link(self, target, source):
        os.link(self._there(source), self._there(target))

    def mkdir(self, path, mode):
        os.mkdir(self._there(path), mode)

    def rmdir(self, path):
        os.rmdir(self._there(path))

    def chmod(self, path, mode):
        os.chmod(self._there(path), mode)

    def utimens(self, path, times=None):
        os.utime(self._there(path))

    def statfs(self, path):
        found = os.statvfs(self._there(path))
        return {name: getattr(found, name) for name in ("f_bavail", "f_bfree", "f_blocks", "f_bsize", "f_frsize")}


if __name__ == "__main__":
    FUSE(SlowDisk(sys.argv[1], sys.argv[3]), sys.argv[2], foreground=True, nothreads=True)
