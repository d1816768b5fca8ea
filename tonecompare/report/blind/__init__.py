"""Can it be heard? A page to listen blind with, and what its results say."""
