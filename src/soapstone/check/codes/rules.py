"""The rule sets. Values are those of the editions named; the code's own text decides.

"quoted" in a clause means that the value was read where others quote the code, not in the code.
"""

from soapstone.check.codes.model import Rule, RuleSet

INCH = 25.4

CAUTION = (
    "These are single rules out of codes, as quoted or from memory: the code's own text, in the "
    "edition that is in force, and the local inspector decide."
)

_CAGE = RuleSet(
    "safety cage",
    "FIA Appendix J, article 253-8, text of 2009",
    "safety cages of cars",
    (
        Rule("radius", "centreline radius at least 3 x OD", "8.3.3, quoted", low=3.0),
        Rule("roundness", "bends: minor over major axis at least 0.9", "8.3.3, quoted", low=0.9),
        Rule("seamless", "cold-drawn seamless carbon steel", "8.3.3, quoted"),
        Rule("yield", "yield strength at least 350 MPa", "8.3.3, quoted", low=350.0),
        Rule(
            "section",
            "38 x 2.5 or 40 x 2.0 mm at least; the main bar 45 x 2.5 or 50 x 2.0 mm",
            "8.3.3, quoted",
            sections=((38.0, 2.5), (40.0, 2.0)),
        ),
        Rule(
            "by hand",
            "the main bar is of 45 x 2.5 or 50 x 2.0 mm",
            "8.3.3, quoted",
            needs="to be told which tube is the main bar",
        ),
    ),
)

_STUDENT = RuleSet(
    "student frame",
    "Formula SAE rules 2021, F.5.2",
    "frames of student race cars",
    (
        Rule("radius", "centreline radius at least 3 x OD", "F.5.2.1, quoted", low=3.0),
        Rule(
            "by hand",
            "bends without crimping or wall failure",
            "F.5.2.2, quoted",
            needs="a look at the made bends",
        ),
        Rule(
            "by hand",
            "a bent tube has a support no more than 30 degrees from its plane",
            "F.5.2.3, quoted",
            needs="to be told which tube supports which",
        ),
    ),
)

_HANDRAIL = RuleSet(
    "accessible handrail",
    "2010 ADA Standards for Accessible Design, section 505",
    "handrails of stairs and ramps",
    (
        Rule("grip", "OD 1.25 to 2.00 in", "505.7.1, quoted", low=1.25 * INCH, high=2.0 * INCH),
        Rule("grip gap", "1.5 in to what is beside it", "505.5, quoted", low=1.5 * INCH),
        Rule("height", "top 34 to 38 in high", "505.4, from memory", low=34 * INCH, high=38 * INCH),
        Rule(
            "by hand",
            "extensions of 12 in at top and bottom",
            "505.10, from memory",
            needs="to be told where the stair or ramp ends",
        ),
    ),
)

_PLAY = RuleSet(
    "play area handrail",
    "2010 ADA Standards for Accessible Design, section 1008",
    "handrails of ramps in play areas",
    (
        Rule("grip", "OD 0.95 to 1.55 in", "1008, quoted", low=0.95 * INCH, high=1.55 * INCH),
        Rule("height", "top 20 to 28 in high", "1008, quoted", low=20 * INCH, high=28 * INCH),
    ),
)

_WORKPLACE = RuleSet(
    "workplace guardrail",
    "OSHA 29 CFR 1910.29",
    "guardrails and stair rails at work",
    (
        Rule("height", "top rail 39 to 45 in high", "(b)(1), quoted", 39 * INCH, 45 * INCH),
        Rule("opening", "openings no more than 19 in", "(b)(2)(iii), quoted", high=19 * INCH),
        Rule("lowest", "openings no more than 19 in", "(b)(2)(iii), quoted", high=19 * INCH),
        Rule("grip gap", "2.25 in for fingers", "(f)(2), quoted", low=2.25 * INCH),
        Rule(
            "by hand",
            "the top rail bears 200 lbf, and stands 39 in high under it",
            "(b)(3) and (4), quoted",
            needs="a load of 200 lbf in the job, and `soapstone strength`",
        ),
    ),
)

_CRAFT_HIGH = RuleSet(
    "small craft high rail",
    "ISO 15085:2003",
    "high guard-rails of small craft",
    (
        Rule("height", "at least 600 mm high", "guard-rails, quoted", low=600.0),
        Rule(
            "by hand",
            "handholds no more than 1.5 m apart",
            "quoted",
            needs="to be told which tubes are handholds, and where people walk",
        ),
    ),
)

_CRAFT_LOW = RuleSet(
    "small craft low rail",
    "ISO 15085:2003",
    "low guard-rails of small craft",
    (Rule("height", "at least 450 mm high", "guard-rails, quoted", low=450.0),),
)

_WORKBOAT = RuleSet(
    "workboat rail",
    "UK MCA code for small vessels, 22.2.2",
    "bulwarks and guard-rails of small vessels in commercial use",
    (
        Rule("height", "top at least 1000 mm high", "22.2.2, quoted", low=1000.0),
        Rule("lowest", "lowest opening no more than 230 mm", "22.2.2, quoted", high=230.0),
        Rule("opening", "other openings no more than 380 mm", "22.2.2, quoted", high=380.0),
    ),
)

_EXCHANGER = RuleSet(
    "exchanger tube",
    "TEMA RCB-2.31, class R",
    "bends of heat exchanger tubes",
    (
        Rule("flattening", "out of round no more than 10 % of OD", "RCB-2.31, quoted", high=10.0),
        Rule(
            "thinning", "outside wall loses no more than 17 %", "RCB-2.31, from memory", high=0.17
        ),
    ),
)

_POWER = RuleSet(
    "power piping",
    "ASME B31.1 practice, as UFC 4-159-01 table 5-4 gives it",
    "bends of power piping",
    (
        Rule(
            "flattening",
            "out of round no more than 8 % of OD, from 5 x OD up",
            "table 5-4, quoted",
            high=8.0,
        ),
    ),
)

RULE_SETS = (
    _CAGE,
    _STUDENT,
    _HANDRAIL,
    _PLAY,
    _WORKPLACE,
    _CRAFT_HIGH,
    _CRAFT_LOW,
    _WORKBOAT,
    _EXCHANGER,
    _POWER,
)
