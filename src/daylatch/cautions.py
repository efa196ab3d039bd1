"""What stands wherever door times leave the program."""

from __future__ import annotations

CAUTION = (
    "A schedule does not see the birds: count heads at dusk. A door can injure a bird or shut one "
    "out: test its obstruction stop. Wiring, mains and batteries follow local electrical codes "
    "and a licensed practitioner. Local animal-welfare and housing orders come first."
)
"""The short caution of every export."""

NO_WEATHER = (
    "Times take no account of cloud, storms or hills: dark weather brings dusk earlier and dawn "
    "later than computed."
)
"""What the times leave out."""

LAMP_CAUTION = (
    "A lamp in a hen house can set it on fire: heat lamps, dust and straw burn. Use a cool, closed "
    "lamp that cannot fall, keep it clean and away from litter, birds and water, and protect the "
    "circuit with a residual-current device (in the US a ground-fault circuit interrupter, GFCI). "
    "Wiring follows local electrical codes and a licensed practitioner."
)
"""What stands beside the caution wherever a lamp's times leave the program."""

POWER_CAUTION = (
    "Batteries can burn, burst or leak, and give off gas that explodes: use a charger meant for "
    "the kind, put a fuse at the battery, keep it dry, aired and out of reach of birds and litter. "
    "Never charge alkaline cells, nor lithium cells below 0 °C. A panel is live whenever light "
    "falls on it. A charger on the mains needs a residual-current device (in the US a ground-fault "
    "circuit interrupter, GFCI). All wiring follows local electrical codes and a licensed "
    "practitioner."
)
"""What stands beside the caution wherever `daylatch power` itself is told."""
