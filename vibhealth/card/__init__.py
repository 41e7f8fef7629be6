"""Machine card: TOML to a checked, frozen description of one machine."""

from vibhealth.card.bearing import Bearing, GivenOrders
from vibhealth.card.limit_table import LIMIT_DEFINITIONS, LimitDefinition
from vibhealth.card.limits import Limit, LimitEntry, Limits
from vibhealth.card.machine import Analysis, BoltGroup, Exciter, Guard, Machine, Oil, Stroke
from vibhealth.card.machine_card import MachineCard
from vibhealth.card.reading import read_card
from vibhealth.card.sensor import Point, Sensor
from vibhealth.card.template import card_template

__all__ = [
    "LIMIT_DEFINITIONS",
    "Analysis",
    "Bearing",
    "BoltGroup",
    "Exciter",
    "GivenOrders",
    "Guard",
    "Limit",
    "LimitDefinition",
    "LimitEntry",
    "Limits",
    "Machine",
    "MachineCard",
    "Oil",
    "Point",
    "Sensor",
    "Stroke",
    "card_template",
    "read_card",
]
