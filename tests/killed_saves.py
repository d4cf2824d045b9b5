"""Kills processes that save, at random moments: run as a program, small enough to fork quickly.

Run with the path of a file that holds ``ONE``; stops with what it found where a kill did harm.
"""

import contextlib
import io
import os
import random
import signal
import sys
import time
import zipfile
from pathlib import Path

from estimator import files

KILLS, LONGEST_PAUSE_S = 200, 0.01


def zipped(text):
    """Return a package of one part, the same bytes at any time."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as members:
        members.writestr(zipfile.ZipInfo("part"), text)
    return content.getvalue()


ONE, TWO, THREE = (zipped(text * 500) for text in ("one", "two", "three"))


def killed_while(work, pause):
    """Do something in another process and kill it after a pause, if it still runs."""
    child = os.fork()
    if not child:
        with contextlib.suppress(BaseException):
            work()
        os._exit(0)
    time.sleep(pause)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def save_on_and_on(path):
    while True:
        files.save_with_backup(str(path), TWO)
        files.save_with_backup(str(path), ONE)


def main(path):
    """Kill while the file is saved on and on, and print what it held after each kill."""
    os.fsync = lambda handle: None  # a kill takes nothing that was written: more saves are met
    chance = random.Random(15)
    for _ in range(KILLS):
        killed_while(lambda: save_on_and_on(path), chance.uniform(0, LONGEST_PAUSE_S))
        backups = [backup.read_bytes() for backup in path.parent.glob("job.bak*")]
        assert path.read_bytes() in (ONE, TWO)
        assert {*backups} <= {files.marked(ONE), files.marked(TWO)}
        print("ONE" if path.read_bytes() == ONE else "TWO")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
