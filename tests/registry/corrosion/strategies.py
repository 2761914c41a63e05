"""Any valid system, for property tests."""

from hypothesis import strategies as st

from registry.corrosion.inputs import (
    DRESSED,
    METHODS,
    SIGNS,
    GasSpan,
    Leak,
    SystemInput,
    WallReading,
    WaterDose,
)
from tests.registry.corrosion.builders import run

fractions = st.floats(0.0, 0.21)
sizes = st.sampled_from(["1", "1-1/4", "2", "2-1/2", "4", "6", "8"])
runs = st.builds(
    lambda nps, length, role, joint, material, at: run(
        nps, "10", length, role=role, joint=joint, material=material, installed_yr=at
    ),
    sizes,
    st.floats(1.0, 500.0),
    st.sampled_from(["riser", "cross_main", "branch_line"]),
    st.sampled_from(["roll_grooved", "cut_grooved", "threaded", "welded", "unknown"]),
    st.sampled_from(["black_steel", "galvanized_steel"]),
    st.floats(0.0, 10.0),
)
spans = st.builds(GasSpan, st.floats(0.0, 30.0), fractions, fractions, st.floats(0.0, 100.0))
systems = st.builds(
    SystemInput,
    kind=st.sampled_from(["wet", "antifreeze", "dry", "preaction", "deluge"]),
    installed_yr=st.just(0.0),
    now_yr=st.floats(0.0, 40.0),
    runs=st.lists(runs, min_size=1, max_size=4).map(tuple),
    pressure_pa=st.floats(1.1e5, 1.4e6),
    spans=st.lists(spans, max_size=5).map(tuple),
    water=st.lists(st.builds(WaterDose, st.floats(0.0, 30.0), st.floats(0.0, 1.0)), max_size=3).map(
        tuple
    ),
    walls=st.lists(
        st.builds(
            WallReading,
            st.just(0),
            st.floats(0.0, 40.0),
            st.floats(1e-4, 8e-3),
            st.sampled_from(METHODS),
            st.none() | st.floats(0.0, 1e-3),
            st.sampled_from(DRESSED),
            st.just(False),
        ),
        max_size=3,
    ).map(tuple),
    leaks=st.lists(st.builds(Leak, st.floats(0.0, 40.0)), max_size=2).map(tuple),
    temperature_k=st.floats(274.0, 310.0),
    is_vented=st.booleans(),
    consequence_class=st.integers(1, 5),
    found_wet=st.integers(0, 2),
    found_clear=st.integers(0, 2),
    signs=st.lists(st.sampled_from(SIGNS), max_size=2).map(tuple),
    book_began_yr=st.none() | st.floats(0.0, 40.0),
)
