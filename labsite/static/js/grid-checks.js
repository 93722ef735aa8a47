// What the readings of each step say about one another: means, spread, and steps that fall.

const CONFIDENT = 1.959964; // two-sided 95 % of the normal distribution

const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;
const written = (number) => number.toFixed(2).replace("-", "−");

/**
 * Checks of the rows in their order on the page.
 *
 * rows: [{key, values}] with the usable numbers of each; "unexposed" is the unexposed area.
 * options: isRising (exposure, and so density, grows down the page), spreadLimit [D], readingSd [D].
 * Returns [{mean, spread, warnings}] in the same order; mean and spread are null where unknown.
 */
export function checkRows(rows, { isRising, spreadLimit, readingSd }) {
  const findings = rows.map(({ values }) => {
    const spread = values.length > 1 ? Math.max(...values) - Math.min(...values) : null;
    return { mean: values.length ? mean(values) : null, spread, count: values.length, warnings: [] };
  });
  for (const finding of findings) {
    // A hair of room, as 0.53 − 0.50 is a little more than 0.03 in binary.
    if (finding.spread !== null && finding.spread > spreadLimit + 1e-9) {
      finding.warnings.push(`readings differ by ${written(finding.spread)} D`);
    }
  }
  const steps = rows.map((row, index) => ({ ...row, ...findings[index], index }));
  const read = steps.filter((step) => step.key !== "unexposed" && step.mean !== null);
  for (let i = 1; i < read.length; i += 1) {
    const [less, more] = isRising ? [read[i - 1], read[i]] : [read[i], read[i - 1]];
    // Two means differ by chance; only a fall that reading noise does not explain is worth a word.
    const noise = CONFIDENT * readingSd * Math.sqrt(1 / less.count + 1 / more.count);
    if (more.mean < less.mean - noise) {
      findings[more.index].warnings.push(
        `step ${more.key} has more exposure than step ${less.key}, yet reads ` +
          `${written(less.mean - more.mean)} D less`,
      );
    }
  }
  return findings;
}
