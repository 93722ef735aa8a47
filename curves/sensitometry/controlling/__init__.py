"""Process control: control strips, their aims, control charts and run rules.

The names that others call:

- `charts.individuals_charts(values, centre=, standard_deviation=, phase=, rules=) -> (Chart, Chart)`: single
  readings and their moving ranges; `mean_charts.mean_range_charts(samples, …)`: means and ranges.
- `memory_charts.ewma_chart(values, centre=, standard_deviation=, weight=, width=) -> Chart`;
  `memory_charts.cusum_charts(values, centre=, allowance=, decision=) -> (Chart, Chart)`.
- `rule_definitions.RULES`, `RULE_SETS`; `run_rules.rule_signals(scores, phase, rules) -> tuple of Signal`.
- `control_constants.control_constants(size)`; `within_spread.spread_from_moving_ranges(values, phase)`.
- `control_strips.ControlStrip(base_fog, speed_step, high_step, dmax, reading_sd=, strip_batch=,
  developer_batch=, run=)`, `QUANTITIES`.
- `strip_aims.set_aims(strips, least=10) -> StripAims`, `stated_aims(centres, limits=) -> StripAims`
  (provisional); `aims.StripAims.to_dict()` / `from_dict()`.
- `strip_batches.carry_over(old, new) -> CarriedOffset`, its `applied_to(aims) -> StripAims`.
- `strip_reading.classify_strip(strip, aims, history, rules="warning", watch_rules="western_electric") ->
  StripVerdict` (`state`, `reason`, `text`, `deviations`, `signals`, `watch`, `causes`).
- `variance_components.variance_components(values, {"member": …, "run": …, "roll": …, "strip": …}, stock=)
  -> VarianceComponents` (standard deviations; some 0.3 s for 250 readings).
- `planning.Design`, `difference_error(components, design)`, `what_shrinks_most(components, design) -> Gains`,
  `rolls_needed(components, difference, power=, alpha=, design=) -> Measure`.
- `batch_life.batch_life(films, deviations, action_limits, batch=, others=) -> BatchLife` (`trend`,
  `films_to_limit`).
"""
