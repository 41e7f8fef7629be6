"""Each broken rule of a card is one sentence with its place."""

import pytest

from tests.card.refusals import Make, refused

# (old text, new text, refusal): one broken rule each.
FAULTS = [
    ("schema_version = 1", "schema_version = 2", "schema_version: must be 1, found 2"),
    ("schema_version = 1\n", "", "schema_version: is required, found nothing"),
    (
        "nominal_speed_rpm",
        "nominal_speed_rmp",
        (
            "machine.nominal_speed_rmp: is not a known key (did you mean 'nominal_speed_rpm'?), "
            "found 978.0"
        ),
    ),
    ("= 978.0", "= 0", "machine.nominal_speed_rpm: must be above 0, found 0"),
    ("= 978.0", "= inf", "machine.nominal_speed_rpm: must be a finite number, found inf"),
    ("= 978.0", "= nan", "machine.nominal_speed_rpm: must be a finite number, found nan"),
    ("= 978.0", '= "978"', 'machine.nominal_speed_rpm: must be a number, found "978"'),
    ("= 978.0", "= true", "machine.nominal_speed_rpm: must be a number, found true"),
    (
        "= 978.0",
        '= 978.0\ndrive = "belt"',
        "machine.drive: must be 'direct', 'soft-start' or 'inverter', found \"belt\"",
    ),
    ('id = "F3"', 'id = " "', 'machine.id: must not be empty, found " "'),
    (
        "stroke_mm = { x = 6.0, y = 6.0 }",
        "stroke_mm = {}",
        "exciter.stroke_mm: must give at least one of x, y, z, found a table",
    ),
    (
        "element_count = 17",
        "element_count = 2",
        'bearing[1].element_count ("upper"): must be at least 3, found 2',
    ),
    (
        "element_count = 17",
        "element_count = 17.5",
        'bearing[1].element_count ("upper"): must be a whole number, found 17.5',
    ),
    (
        "element_diameter_mm = 26.0",
        "element_diameter_mm = 30.0",
        (
            'bearing[1] ("upper"): 17 elements of 30 mm overlap on a pitch circle of 160 mm '
            "(room for 29.4 mm each); check for mixed mm and inch values or swapped diameters, "
            "found nothing"
        ),
    ),
    (
        "element_diameter_mm = 26.0\n",
        "",
        (
            'bearing[1].element_diameter_mm ("upper"): is required beside the other geometry keys, '
            "found nothing"
        ),
    ),
    (
        'load_case = "rotating"',
        'load_case = "turning"',
        (
            "bearing[1].load_case (\"upper\"): must be 'rotating', 'stationary', 'twice-per-turn' "
            "or 'unknown', found \"turning\""
        ),
    ),
    (
        'load_case = "rotating"',
        'rotating_ring = "both"',
        "bearing[1].rotating_ring (\"upper\"): must be 'inner' or 'outer', found \"both\"",
    ),
    (
        'load_case = "rotating"',
        "contact_angle_deg = 90.0",
        'bearing[1].contact_angle_deg ("upper"): must be below 90, found 90.0',
    ),
    (
        "full_scale_v = 5.0\n",
        "",
        (
            'sensor[1].full_scale_v ("A1"): is required with sensitivity_mv_per_g: the voltage of a '
            "full-scale sample, found nothing"
        ),
    ),
    (
        "sensitivity_mv_per_g = 10.0\n",
        "",
        (
            'sensor[1].full_scale_v ("A1"): needs sensitivity_mv_per_g or sensitivity_mv_per_m_s2 '
            "beside it, found 5.0"
        ),
    ),
    (
        "full_scale_v = 5.0\n",
        'full_scale_v = 5.0\nunit = "g"\n',
        (
            'sensor[1] ("A1"): must give one way of calibration only, one of sensitivity_mv_per_g, '
            'sensitivity_mv_per_m_s2, full_scale_g, unit, found "sensitivity_mv_per_g and unit"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A2"',
        (
            'point[1].sensor ("P1X"): must name a [[sensor]] of this card (known here: A1), '
            'found "A2"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\nbearings = ["upper", "lower"]',
        (
            'point[1].bearings[2] ("P1X"): must name a [[bearing]] of this card '
            '(known here: upper), found "lower"'
        ),
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\nchannel = 0',
        'point[1].channel ("P1X"): must be at least 1, found 0',
    ),
    (
        'sensor = "A1"',
        'sensor = "A1"\n[[point]]\nname = "P1X"\ndirection = "y"\nsensor = "A1"',
        'point[2].name: must differ from the other [[point]] names, found "P1X"',
    ),
    (
        "[1000.0, 10000.0]",
        "[10000.0, 1000.0]",
        (
            "analysis.bearing_band_hz: must be [low, high] in Hz with 0 < low < high, "
            "found [10000.0, 1000.0]"
        ),
    ),
    (
        "[1000.0, 10000.0]",
        "[1000.0]",
        "analysis.bearing_band_hz[2]: is required, found nothing",
    ),
    (
        "[1000.0, 10000.0]",
        "1000.0",
        "analysis.bearing_band_hz: must be a list in square brackets, found 1000.0",
    ),
    (
        "[1000.0, 10000.0]",
        "[1000.0, 10000.0]\nslip_percent = 6",
        "analysis.slip_percent: must be at most 5, found 6",
    ),
    (
        "[limits]",
        "[guard]\n[limits]",
        "guard.clearance_mm: is required, found nothing",
    ),
    (
        "[limits]",
        "[oil]\nviscosity_40c_mm2_s = 20\nviscosity_100c_mm2_s = 220\n[limits]",
        (
            "oil.viscosity_100c_mm2_s: must be below viscosity_40c_mm2_s (20), since oil thins when "
            "hot, found 220.0"
        ),
    ),
    (
        "[limits]",
        '[[bolt_group]]\nname = "flange"\ncount = 12\ntorque_stages_nm = [200, 100]\n[limits]',
        (
            'bolt_group[1].torque_stages_nm ("flange"): must not fall from one stage to the next, '
            "found [200.0, 100.0]"
        ),
    ),
    (
        "[limits]",
        '[[bolt_group]]\nname = "flange"\ncount = 12\ntorque_stages_nm = []\n[limits]',
        'bolt_group[1].torque_stages_nm ("flange"): must have at least 1 entries, found []',
    ),
    (
        "[limits]",
        "[oils]\n[limits]",
        "oils: is not a known key (did you mean 'oil'?), found a table",
    ),
]


@pytest.mark.parametrize(("old", "new", "refusal"), FAULTS, ids=[row[2][:48] for row in FAULTS])
def test_a_broken_rule_is_one_sentence(card: Make, old: str, new: str, refusal: str) -> None:
    lines = refused(card, (old, new))
    assert refusal in lines
    # A misspelt required key is two faults: the unknown one and the missing one.
    assert len(lines) == (2 if "did you mean 'nominal_speed_rpm'" in refusal else 1)


def test_all_faults_are_listed_one_line_each(card: Make) -> None:
    lines = refused(
        card,
        ("= 978.0", "= -1"),
        ("element_count = 17", "element_count = 1"),
        ('direction = "x"', "direction = 1979-05-27"),
    )
    assert lines == [
        "machine.nominal_speed_rpm: must be above 0, found -1",
        'bearing[1].element_count ("upper"): must be at least 3, found 1',
        'point[1].direction ("P1X"): must be text in quotes, found the date or time 1979-05-27',
    ]


def test_a_long_value_is_cut_in_the_message(card: Make) -> None:
    (line,) = refused(card, ("= 978.0", f'= "{"9" * 300}"'))
    assert len(line) < 150
