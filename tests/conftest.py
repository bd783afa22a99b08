"""Random examples are drawn the same way in every run, so that the check says the same of the same code.

To look for more: python -m pytest --hypothesis-profile=random
"""

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("random", deadline=None)
settings.load_profile("steady")
