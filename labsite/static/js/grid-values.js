// What is typed into the readings grid, read as a number or refused with a reason. Same rules as the
// server's (curves/importers/numbers.py): decimal point or comma, never a guess at "1,234".

const NUMBER = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d{1,3})?$/i;
const THOUSANDS = /^[+-]?[1-9]\d{0,2}(?:,\d{3})+$/;

/** Text without surrounding blanks and with an ASCII minus sign. */
export const clean = (text) =>
  text
    .replace(/[−–]/g, "-")
    .replace(/[\u00a0\u202f]/g, " ")
    .trim();

/** Whether the texts leave no doubt that a comma is the decimal mark, so that 1,234 is 1.234. */
export function commaIsDecimal(texts) {
  let found = false;
  for (const text of texts.map(clean)) {
    if (!NUMBER.test(text)) continue;
    if (text.includes(".")) return false;
    found ||= text.includes(",") && !THOUSANDS.test(text);
  }
  return found;
}

/** One cell: {value, problem}; an empty cell has neither. */
export function readCell(text, { minimum, maximum, commaIsSure = false }) {
  const number = clean(text);
  if (number === "") return { value: null, problem: "" };
  if (!NUMBER.test(number)) return { value: null, problem: `“${number.slice(0, 24)}” is not a number` };
  if (THOUSANDS.test(number) && !commaIsSure) {
    return { value: null, problem: `“${number}” could mean thousands; write it with a point` };
  }
  const value = Number(number.replace(",", "."));
  if (value < minimum || value > maximum) {
    return { value: null, problem: `${number} is outside ${minimum} to ${maximum}`.replace(/-/g, "−") };
  }
  return { value, problem: "" };
}

/** Cells copied from a spreadsheet: rows of columns. A last empty line is the copy's, not the user's. */
export function readBlock(text) {
  const lines = text.replace(/\r\n?/g, "\n").split("\n");
  while (lines.length > 1 && lines.at(-1).trim() === "") lines.pop();
  return lines.map((line) => line.split("\t").map((cell) => cell.trim()));
}
