// What is seen, in words, and where it is written.

import { begun, stepAt } from "./places.js";

// The repetition that sounds, by its row in the lesson's list; null where none does.
export function soundingRow(line, seconds) {
  const rows = line.sails;
  const index = begun(rows, seconds, (row) => row[1]);
  for (let near = index; near >= 0 && near > index - 8; near--) if (rows[near][2] > seconds + 1e-4) return rows[near][0];
  return null;
}

// The picture, for those who do not see it.
export function pictured({ facts, segment }, line, row, seconds) {
  const one = facts.segments[segment - 1];
  if (row === null) return `${one.show}: ${stepAt(line, seconds)?.[0] ?? ""}`;
  const harmony = line.harmonies[begun(line.harmonies, seconds)];
  const { no, name } = facts.repetitions[row];
  return `${one.show}: ${no === null ? name : `repetition ${no} of ${name}`} sounds${harmony ? ` over ${harmony[0]}` : ""}`;
}

// The lines of the text in which a section is written, from 0, both ends.
export function sectionLines(text, section) {
  if (!section || section.entry === null) return [0, -1];
  const rows = text.split("\n");
  const starts = rows.flatMap((row, index) => (/^\s*-\s*\{?\s*(section|again):/.test(row) ? [index] : []));
  const first = starts[section.entry];
  if (first === undefined) return [0, -1];
  const depth = rows[first].match(/^\s*/)[0].length;
  let last = first;
  while (last + 1 < rows.length && rows[last + 1].trim() && rows[last + 1].match(/^\s*/)[0].length > depth) last++;
  return [first, last];
}
