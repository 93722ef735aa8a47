"""Definitions of the measures of process control and of agreement, in the form of the registry."""

from curves.sensitometry.registry.measure_definition import HOUSE, MeasureDefinition

_PRACTICE = "Common practice, no source."
_ISO_5725 = "ISO 5725-2, from memory."
_GAUGE = "Measurement Systems Analysis manual, from memory."
_AGREEMENT = "Bland & Altman 1986, from memory."
_REML = "Patterson & Thompson 1971, from memory."
_STRIPS = ("TOO_FEW_STRIPS",)
_LABS = ("TOO_FEW_LABS",)
_PAIRS = ("TOO_FEW_PAIRS",)
_LINE = (
    "TOO_FEW_PAIRS",
    "NO_ASSOCIATION",
    "NOT_STRAIGHT",
    "ILL_DEFINED",
    "TOO_FEW_LABS",
    "REFERENCE_ITSELF",
    "CORRECTED_ALREADY",
)
_COMPONENT = ("TOO_FEW_GROUPS", "NOT_SEPARABLE", "TOO_FEW_POINTS")
_TREND = ("TOO_FEW_STRIPS", "ILL_DEFINED")

CONTROL_DEFINITIONS = (
    MeasureDefinition(
        "control_aim", "Aim of a control strip", "aim", "D", 3,
        "Mean of at least ten strips in control.",
        HOUSE,
        "Where a step of the control strip ought to read.",
        ("TOO_FEW_STRIPS", "NO_AIMS"),
    ),
    MeasureDefinition(
        "within_spread", "Spread of a process in control", "σ", "D", 4,
        "Mean moving range over d2, or mean range over d2; interval by a chi-square of as many degrees.",
        "ISO 7870-2:2013, from memory.",
        "How much strips vary without a cause. Never the overall spread, which a drift would widen.",
        _STRIPS,
    ),
    MeasureDefinition(
        "control_deviation", "Deviation from the aim", "Δ", "D", 3,
        "Strip less aim.",
        _PRACTICE,
        "How far the run's strip is off; its interval holds the uncertainties of reading and aim.",
        (),
    ),
    MeasureDefinition(
        "strip_offset", "New batch of strips less the old", "Δ", "D", 3,
        "Least squares of run and batch over strips processed in the same runs.",
        HOUSE,
        "What to add to the aims when a new batch of strips begins.",
        _STRIPS,
    ),
    MeasureDefinition(
        "trend_per_film", "Trend of a developer batch", "b", "D per film", 4,
        "Straight line through deviations of strips against films through the batch.",
        HOUSE,
        "How much a batch of developer changes with each film.",
        _STRIPS,
    ),
    MeasureDefinition(
        "films_to_limit", "Films to the action limit", "n", "film", 0,
        "Where the line meets the action limit, within what was observed; Fieller's interval.",
        "Fieller 1954 for the interval.",
        "How many films a batch of developer takes.",
        ("TOO_FEW_STRIPS", "NO_TREND", "NOT_MET", "BELOW_RANGE"),
    ),
    MeasureDefinition(
        "fresh_deviation", "Deviation of the fresh batch", "a", "D", 3,
        "The line at the fewest films.",
        HOUSE,
        "Where a batch of developer begins.",
        _STRIPS,
    ),
    MeasureDefinition(
        "trend_with_films", "Trend with films, the rest held", "b", "D per film", 4,
        "Least squares with films, age and replenisher together.",
        HOUSE,
        "What films do to a batch beside its age and replenishment.",
        _TREND,
    ),
    MeasureDefinition(
        "trend_with_age_days", "Trend with age, the rest held", "b", "D per day", 4,
        "Least squares with films, age and replenisher together.",
        HOUSE,
        "What standing does to a batch beside films and replenishment.",
        _TREND,
    ),
    MeasureDefinition(
        "trend_with_replenisher_l", "Trend with replenisher, the rest held", "b", "D per l", 3,
        "Least squares with films, age and replenisher together.",
        HOUSE,
        "What replenishment does to a batch beside films and age.",
        _TREND,
    ),
    MeasureDefinition(
        "precision_mean", "Mean of all members", "m", "D", 4,
        "Mean of all readings; interval from the spread of the members' means.",
        _ISO_5725,
        "What the members or instruments read together.",
        _LABS,
    ),
    MeasureDefinition(
        "repeatability_sd", "Repeatability", "s_r", "D", 4,
        "Root of the pooled variance within members.",
        _ISO_5725,
        "How much one member's readings of the same patch differ.",
        _LABS,
    ),
    MeasureDefinition(
        "between_sd", "Spread between members", "s_L", "D", 4,
        "Root of the variance of means beyond what repeatability gives.",
        _ISO_5725,
        "How much members or instruments differ beside their own scatter.",
        _LABS,
    ),
    MeasureDefinition(
        "reproducibility_sd", "Reproducibility", "s_R", "D", 4,
        "Root of the sum of both variances.",
        _ISO_5725,
        "How much readings of the same patch by different members differ.",
        _LABS,
    ),
    MeasureDefinition(
        "repeatability_limit", "Repeatability limit", "r", "D", 3,
        "2.8 s_r.",
        _ISO_5725,
        "Two readings by one member differ by more in one case of twenty.",
        _LABS,
    ),
    MeasureDefinition(
        "reproducibility_limit", "Reproducibility limit", "R", "D", 3,
        "2.8 s_R.",
        _ISO_5725,
        "Readings by two members differ by more in one case of twenty.",
        _LABS,
    ),
    MeasureDefinition(
        "gauge_component", "Part of a gauge study", "σ", "D", 4,
        "Two-way analysis of variance, the interaction pooled where its p exceeds 0.25; or mean ranges.",
        _GAUGE,
        "How much of the spread of readings is the instrument's, the readers' and the film's.",
        (),
    ),
    MeasureDefinition(
        "mean_difference", "Mean difference", "d", "D", 3,
        "Mean of first less second reading.",
        _AGREEMENT,
        "By how much two instruments or members differ on average.",
        _PAIRS,
    ),
    MeasureDefinition(
        "difference_sd", "Spread of differences", "s_d", "D", 4,
        "Standard deviation of first less second reading.",
        _AGREEMENT,
        "How much the difference of two instruments or members varies.",
        _PAIRS,
    ),
    MeasureDefinition(
        "agreement_low", "Lower limit of agreement", "d − 1.96 s_d", "D", 3,
        "Mean difference less 1.96 standard deviations; exact interval.",
        _AGREEMENT,
        "Ninety-five of a hundred differences lie between the limits of agreement.",
        _PAIRS,
    ),
    MeasureDefinition(
        "agreement_high", "Upper limit of agreement", "d + 1.96 s_d", "D", 3,
        "Mean difference plus 1.96 standard deviations; exact interval.",
        _AGREEMENT,
        "Ninety-five of a hundred differences lie between the limits of agreement.",
        _PAIRS,
    ),
    MeasureDefinition(
        "difference_slope", "Change of the difference with density", "b", "", 4,
        "Least squares of the difference on the mean of each pair.",
        _AGREEMENT,
        "Zero when one pair of limits holds for all densities.",
        ("TOO_FEW_PAIRS", "NO_ASSOCIATION"),
    ),
    MeasureDefinition(
        "correction_offset", "Offset of a correction", "a", "D", 3,
        "York's line, or Deming's where reading uncertainties are not known.",
        "Deming 1943; York 2004.",
        "What to add to an instrument's reading of zero.",
        _LINE,
    ),
    MeasureDefinition(
        "correction_slope", "Slope of a correction", "b", "", 4,
        "York's line, or Deming's where reading uncertainties are not known.",
        "Deming 1943; York 2004.",
        "What to multiply an instrument's reading by.",
        _LINE,
    ),
    MeasureDefinition(
        "corrected_density", "Corrected density", "D", "D", 3,
        "Offset plus slope times reading, within the tested densities.",
        "Deming 1943; York 2004.",
        "A reading on the scale of the reference instrument.",
        (*_LINE, "OUTSIDE_TESTED_RANGE", "INVALID_INPUT"),
    ),
    MeasureDefinition(
        "check_deviation", "Deviation of a check reading", "Δ", "D", 3,
        "Reading less certificate; span: high less zero; bend: middle less the line between them.",
        HOUSE,
        "How far an instrument is off on its reference tablet.",
        ("TOO_FEW_POINTS",),
    ),
    MeasureDefinition(
        "check_drift", "Drift of check readings", "b", "D per 30 days", 4,
        "Straight line through check readings over time.",
        HOUSE,
        "How an instrument changes.",
        ("TOO_FEW_POINTS",),
    ),
    MeasureDefinition(
        "variance_component", "Component of the lab's spread", "σ", "D", 4,
        "Restricted maximum likelihood of nested levels; profile likelihood interval.",
        _REML,
        "How much members, runs, rolls, strips and readings each add to the spread.",
        _COMPONENT,
    ),
    MeasureDefinition(
        "stock_mean", "Mean of a stock", "m", "D", 3,
        "Generalised least squares by the components.",
        _REML,
        "The mean of a stock over all its rolls, each weighted by what it tells.",
        (),
    ),
    MeasureDefinition(
        "difference_error", "Error of a difference of two stocks", "se", "D", 4,
        "Root of twice the sum of components, each over how often it was repeated.",
        _PRACTICE,
        "How sure a difference of two stocks is, tested as planned.",
        _COMPONENT,
    ),
    MeasureDefinition(
        "rolls_needed", "Rolls needed", "n", "roll", 0,
        "Least number whose two-sided t test has the power wanted.",
        _PRACTICE,
        "Rolls of each stock that show a difference as small as wanted.",
        (*_COMPONENT, "NOT_REACHED"),
    ),
)  # fmt: skip
