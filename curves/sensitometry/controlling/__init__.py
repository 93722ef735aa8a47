"""Process control: control strips, their aims, control charts and run rules.

The names that others call:

- `charts.individuals_charts(values, centre=, standard_deviation=, phase=, rules=) -> (Chart, Chart)`: single
  readings and their moving ranges; `mean_charts.mean_range_charts(samples, …)`: means and ranges.
- `memory_charts.ewma_chart(values, centre=, standard_deviation=, weight=, width=) -> Chart`;
  `memory_charts.cusum_charts(values, centre=, allowance=, decision=) -> (Chart, Chart)`.
- `rule_definitions.RULES`, `RULE_SETS`; `run_rules.rule_signals(scores, phase, rules) -> tuple of Signal`.
- `control_constants.control_constants(size)`; `within_spread.spread_from_moving_ranges(values, phase)`.
"""
