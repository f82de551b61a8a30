"""A study of a part and a job: the analyses in order, their results, and their cache."""

from .analyses import ANALYSES, NAMES, USUAL
from .analysis import Analysis
from .cache import Cache
from .results import Results
from .run import keys, run, stale
from .study import LEFT_OUT, Study

__all__ = ["ANALYSES", "LEFT_OUT", "NAMES", "USUAL", "Analysis", "Cache", "Results", "Study", "keys", "run", "stale"]
