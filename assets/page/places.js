// Places in a segment: seconds to bar and beat or step, and the same place in another edition or at another speed.

export const EPSILON = 1e-4;

// The last row of rows sorted by time that has begun; -1 before the first.
export function begun(rows, seconds, time = (row) => row.at(-1)) {
  let low = 0, high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time(rows[middle]) <= seconds + EPSILON) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

export const beatAt = (line, seconds) => line.beats[begun(line.beats, seconds)];
export const stepAt = (line, seconds) => line.steps[Math.max(0, begun(line.steps, seconds))];

// Where one is, in words that hold when the text changes: section, its bar, its beat, and how far into that; else a step.
export function placeOf(line, seconds, sections) {
  const index = begun(line.beats, seconds);
  const row = line.beats[index];
  const step = begun(line.steps, seconds);
  const stepped = step >= 0 ? { step: line.steps[step][0], stepSeconds: seconds - line.steps[step][1] } : { step: null, stepSeconds: seconds };
  if (!row) return stepped;
  const next = line.beats[index + 1] ? line.beats[index + 1][4] : line.seconds;
  if (seconds > next - EPSILON && !line.beats[index + 1]) return stepped;
  const [section, bar, , beat, start] = row;
  return { ...stepped, section: sections[section]?.name, index: section, bar, beat, share: (seconds - start) / Math.max(1e-6, next - start), after: seconds - start };
}

// When that is in another line; the nearest there is.
export function secondsOf(line, place, sections) {
  if (place.section !== undefined) {
    const rows = line.beats;
    let found = rows.findIndex(([section, bar, , beat]) => sections[section]?.name === place.section && bar === place.bar && beat === place.beat);
    if (found < 0) found = rows.findLastIndex(([section, bar]) => sections[section]?.name === place.section && bar <= place.bar);
    if (found < 0) found = rows.findLastIndex(([section]) => section <= place.index);
    if (found >= 0) {
      const start = rows[found][4];
      const next = rows[found + 1] ? rows[found + 1][4] : line.seconds;
      return Math.min(line.seconds, start + place.share * (next - start));
    }
  }
  const step = line.steps.find(([name]) => name === place.step);
  if (!step) return Math.min(line.seconds, place.stepSeconds);
  const next = line.steps[line.steps.indexOf(step) + 1];
  return Math.min(next ? next[1] - EPSILON : line.seconds, step[1] + place.stepSeconds);
}

// Bars of a line: number, section, when they begin and end.
export function barsOf(line) {
  const bars = [];
  for (const [section, , number, beat, seconds] of line.beats) {
    const last = bars.at(-1);
    if (!last || last.number !== number || (beat === 1 && last.beat >= 1)) {
      if (last) last.end = Math.min(last.end, seconds);
      bars.push({ number, section, start: seconds, end: line.seconds, beat });
    }
  }
  return bars;
}

const fromStart = (bar, sections) => (bar < 0 ? lastBar(sections) + 1 + bar : bar); // -1 is the last one
const lastBar = (sections) => Math.max(...sections.map(({ first, bars }) => first + bars - 1));

// Why a bar can't be gone to: the piece has none of that number, or the segment, whose bars are `shown`, leaves it out.
function missing(bar, typed, shown, sections) {
  if (!sections.some(({ first, bars }) => bar >= first && bar < first + bars)) return `there is no bar ${typed}. The last bar is ${lastBar(sections)}.`;
  return shown.has(bar) ? null : `this segment does not show bar ${bar}.`;
}

// When a place is that was typed, a bar or a bar and beat: `{ seconds }`, or `{ wrong }`, what is wrong with it. Bars below 0 count from the end.
export function askedPlace(words, line, sections) {
  const found = words.match(/^(-?\d+)(?:\.(\d+))?$/);
  if (!found) return { wrong: `${words}: this is not a bar. Write a bar (9), or a bar and beat (9.3).` };
  const [typed, beat] = [Number(found[1]), Number(found[2] ?? 1)];
  const bar = fromStart(typed, sections);
  const none = missing(bar, typed, new Set(line.beats.map((row) => row[2])), sections);
  if (none) return { wrong: `${words}: ${none}` };
  const beats = line.beats.filter((row) => row[2] === bar);
  const row = beats.find((one) => one[3] === beat);
  return row ? { seconds: row[4] } : { wrong: `${words}: bar ${bar} has beats 1 to ${Math.max(...beats.map((one) => one[3]))}.` };
}

// The bars of a line that were typed, from one to another or one alone: `{ row }`, or `{ wrong }`. Bars below 0 count from the end.
export function askedBars(words, bars, sections) {
  const found = words.match(/^(-?\d+)(?:\s*(?:-|to)\s*(-?\d+))?$/);
  if (!found) return { wrong: `${words}: these are not bars. Write 9-12, or 9.` };
  const typed = [Number(found[1]), Number(found[2] ?? found[1])];
  const [first, last] = typed.map((bar) => fromStart(bar, sections));
  const shown = new Set(bars.map(({ number }) => number));
  for (const [bar, word] of [[first, typed[0]], [last, typed[1]]]) {
    const none = missing(bar, word, shown, sections);
    if (none) return { wrong: `${words}: ${none}` };
  }
  if (last < first) return { wrong: `${words}: a range runs forwards. Write ${typed[1]}${typed[0] < 0 || typed[1] < 0 ? " to " : "-"}${typed[0]}.` };
  return { row: bars.filter(({ number }) => number >= first && number <= last) };
}
