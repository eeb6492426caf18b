/* Questions about one value that can hardly be, asked where the studio cannot be reached.
   The same limits, words and answers as services/questions.py; a test holds the two to each other. */

const BOILING_C = 100;
const PRESSURE_C = 140;
const ROOM_C = 10;
const HIGHEST_PH = 14;
const ACID_BATH_HIGHEST_PH = 9;

const plainNumber = (n) => String(Number(n.toPrecision(6)));
const temperature = (n) => `${Math.round(n)}`.replace("-", "−") + "\u202f°C";
const oneDecimal = (n) => Math.round(n * 10) / 10;

/** The question that a value calls for: { kind, value, text, ways: [{ words, kind, value, isSure }] }; else null.
    `sure` is between which values nobody is asked: { temperature_c, ph, rinses }. */
export function questionAbout(kind, number, sure) {
  if (kind === "temperature") return aboutTemperature(number, ...sure.temperature_c);
  if (kind === "ph") return aboutPh(number, ...sure.ph);
  return null;
}

function aboutTemperature(bathC, low, high) {
  if (low <= bathC && bathC <= high) return null;
  const shown = temperature(bathC);
  const asF = (bathC - 32) / 1.8;
  const isHot = bathC > high;
  let text = isHot ? `${shown} is beyond a pot: water boils at ${temperature(BOILING_C)}.` : `${shown} is ice, and a dye bath is not.`;
  let meant = isHot ? bathC / 10 : -bathC;
  if (isHot ? meant < ROOM_C || meant > high : meant > high) meant = null;
  const ways = meant === null ? [] : [way(temperature(oneDecimal(meant)), "temperature", plainNumber(oneDecimal(meant)))];
  if (isHot && ROOM_C <= asF && asF <= high) ways.unshift(way(`${plainNumber(bathC)} °F, ${temperature(asF)}`, "temperature", `${plainNumber(bathC)} F`));
  else if (isHot) text += ` ${plainNumber(bathC)} °F would be ${temperature(asF)}.`;
  return question("temperature", bathC, text, ways, isHot && bathC <= PRESSURE_C, shown);
}

function aboutPh(ph, low, high) {
  if (low <= ph && ph <= high) return null;
  const shown = `pH ${plainNumber(ph)}`;
  const isOnScale = ph >= 0 && ph <= HIGHEST_PH;
  let text = `${shown} is as caustic as lye.`;
  if (!isOnScale) text = `${shown} is off the scale: it goes from 0 to 14.`;
  else if (ph < low) text = `${shown} is as sour as strong mineral acid.`;
  else if (high === ACID_BATH_HIGHEST_PH) text = `${shown} in an acid bath: no dye would stay on the yarn there.`;
  const tenth = plainNumber(ph / 10);
  const ways = ph > HIGHEST_PH && low <= ph / 10 && ph / 10 <= high ? [way(`pH ${tenth}`, "ph", tenth)] : [];
  return question("ph", ph, text, ways, isOnScale, shown);
}

function way(words, kind, value, isSure = false) { return { words, kind, value, isSure }; }

function question(kind, number, text, ways, canBe, noted) {
  const value = plainNumber(number);
  const kept = canBe ? way(`${noted} is right`, kind, value, true) : way("Keep it as a note", "note", noted);
  return { kind, value, text, ways: [...ways, kept] };
}
