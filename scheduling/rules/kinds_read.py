"""The kinds of record that rules read, by name."""

from registry.kinds import KINDS

LEAK = KINDS["event.leak"]
TRIP = KINDS["event.trip"]
GAS_LOSS = KINDS["event.gas_loss"]
REPAIR = KINDS["event.repair"]
DRAIN_DOWN = KINDS["event.drain_down"]
IMPAIRMENT_START = KINDS["event.impairment_start"]
IMPAIRMENT_END = KINDS["event.impairment_end"]
GAS_READING = KINDS["reading.gas"]
PRESSURE_READING = KINDS["reading.pressure"]
WALL_READING = KINDS["reading.wall"]
OBSTRUCTION_FINDING = KINDS["reading.obstruction"]
LEAK_DOWN = KINDS["reading.leak_down"]
RUN_READING = KINDS["inerting.read"]
RUN_ACCEPTED = KINDS["inerting.accepted"]
INSPECTED = KINDS["inspection.completed"]
NOT_INSPECTED = KINDS["inspection.skipped"]
INERTING_WANTED = KINDS["request.inerting"]
SYSTEM_ENTERED = KINDS["register.system"]
PIPE_ENTERED = KINDS["register.pipe"]
REGISTER_AMENDED = KINDS["register.amended"]
WITHDRAWN = KINDS["register.withdrawn"]

GAS_READINGS = (GAS_READING, RUN_READING, RUN_ACCEPTED)
