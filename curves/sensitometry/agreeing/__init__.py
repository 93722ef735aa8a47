"""Agreement between instruments and between members.

The names that others call:

- `precision.repeatability_and_reproducibility(labels, values, left_out=) -> Precision`.
- `outlier_tests.cochran_test`, `grubbs_tests`; their critical values in `outlier_limits`.
- `gauge_study.gauge_study(readings, method="anova" | "range") -> GaugeStudy`.
- `difference_plot.difference_plot(first, second) -> DifferencePlot` (limits of agreement).
- `instrument_correction.instrument_correction(readings, reference_readings, reading_sd=, reference_sd=) ->
  Correction` (`to_dict`, `from_dict`); `corrected_density(correction, density, density_sd) -> Measure`.
- `check_trend.check_trend(days, readings, certified, reading_sd=, tolerance=) -> CheckTrend`.
"""
