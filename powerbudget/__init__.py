"""Power budget, hourly battery and sizing for unattended off-grid sites.

Equipment list and place in; hourly load, hourly battery, days of autonomy, panel
and battery needed out.  Everything that the command line does is one call here.
Names stand in `__init__.pyi` and are loaded on first use, so that importing the
package costs nothing.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
