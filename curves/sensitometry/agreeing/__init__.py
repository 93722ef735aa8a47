"""Agreement between instruments and between members.

The names that others call:

- `precision.repeatability_and_reproducibility(labels, values, left_out=) -> Precision`.
- `outlier_tests.cochran_test`, `grubbs_tests`; their critical values in `outlier_limits`.
- `gauge_study.gauge_study(readings, method="anova" | "range") -> GaugeStudy`.
- `difference_plot.difference_plot(first, second) -> DifferencePlot` (limits of agreement).
- `instrument_correction.instrument_correction(readings, reference_readings, reading_sd=, reference_sd=) ->
  Correction` (`to_dict`, `from_dict`); `corrected_density(correction, density, density_sd) -> Measure`.
- `check_trend.check_trend(days, readings, certified, reading_sd=, tolerance=) -> CheckTrend`.
- A whole study of one strip, from `study_readings.StudyReading`s: `study_precision.study_precision` (with
  what is set aside), `study_gauge.study_gauge`, `study_corrections.compared` against an instrument's
  `study_readings.step_means`, `study_corrections.consensus` or `study_corrections.certified` densities.
"""
