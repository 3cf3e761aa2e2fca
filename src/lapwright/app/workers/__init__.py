"""Work larger than one core: cut into chunks, given to workers, taken up again after an interruption.

What a chunk gives depends on the chunk alone, and results are put in the order of the chunks; so the answer is the same
whatever the number of workers, and wherever they run.
"""

from lapwright.app.workers.finished import Finished
from lapwright.app.workers.port import Chunk, Work, Workers, worked
from lapwright.app.workers.where import open_workers

__all__ = ["Chunk", "Finished", "Work", "Workers", "open_workers", "worked"]
