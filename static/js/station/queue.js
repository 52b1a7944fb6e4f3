// Whose turn it is, worked out on the phone alone: the server's last word, and over it what this phone still keeps.
// The order is that of services/drop_queue.py; tests/design_challenges/services/queue_cases.json holds both to it.

const REFERENCE_DROPS = 3;
const VOID = ["timing", "hit", "release"];

const sameDrop = (drop, fields) => drop.trial === Number(fields.trial) && drop.attempt === Number(fields.attempt);

// A team's next drop: {trial, attempt}, or null when all are in. As drop_order.find_turn does.
export function nextDrop(team) {
  const counting = (trial) => {
    const drop = newest(team, trial);
    return Boolean(drop && drop.counts && drop.hundredths);
  };
  if (team.broke === "no_more" && team.drops.some((drop) => drop.counts && drop.hundredths)) return null;
  for (let trial = 1; trial <= team.wanted; trial += 1) {
    if (counting(trial)) continue;
    const drop = newest(team, trial);
    if (!drop) return { trial, attempt: 1 };
    return { trial, attempt: drop.counts ? drop.attempt : drop.attempt + 1 };
  }
  return null;
}

function newest(team, trial) {
  return team.drops
    .filter((drop) => drop.trial === trial)
    .reduce((last, drop) => (!last || drop.attempt > last.attempt ? drop : last), null);
}

// What a state of the server becomes with this phone's own entries that it does not know of yet.
export function layOver(state, items) {
  const now = structuredClone(state);
  const arrived = new Set(state.arrived);
  const mine = items.filter(
    (item) => item.fields.challenge === String(state.challenge) && item.state !== "refused" && !arrived.has(item.id),
  );
  for (const item of mine) apply(now, item.fields);
  return now;
}

function apply(state, fields) {
  const team = state.teams.find((one) => one.id === Number(fields.team) && one.round === Number(fields.round));
  const act = { reading: applyReading, typed: applyTyped, call: applyCall, broke: applyBroke, move: applyMove }[fields.do];
  act?.(state, fields, team);
}

function applyReading(state, fields, team) {
  if (fields.team === "reference") {
    if (state.reference !== null) state.reference += 1;
    return;
  }
  const drop = team?.drops.find((one) => sameDrop(one, fields));
  if (drop) drop.hundredths ||= Number(fields.hundredths);
  else team?.drops.push({
    trial: Number(fields.trial), attempt: Number(fields.attempt), hundredths: Number(fields.hundredths),
    counts: true, mark: "", watches: 1,
  });
}

function applyTyped(state, fields) {
  const [teamId, round, trial, attempt] = fields.place.split("-");
  const hundredths = hundredthsOf(fields.time) ?? 1;
  const read = fields.place === "reference" ? { team: "reference" } : { team: teamId, round, trial, attempt, hundredths };
  apply(state, { ...read, do: "reading" });
  apply(state, { ...read, do: "call", call: fields.how });
}

function applyCall(state, fields, team) {
  const drop = team?.drops.find((one) => sameDrop(one, fields));
  if (!drop || fields.call === "yes") return;
  drop.mark = fields.call;
  drop.counts = !VOID.includes(fields.call);
}

function applyBroke(state, fields, team) {
  if (!team) return;
  team.broke = fields.outcome;
  if (fields.outcome !== "new") return;
  // New sizes: what was dropped before was another device, and this one has to be measured first.
  for (const drop of team.drops) drop.counts = false;
  team.state = "building";
}

function applyMove(state, fields) {
  if (fields.move === "stop") Object.assign(state, { moves: [], open: false });
  else {
    state.moves.push({
      move: fields.move, team: Number(fields.team ?? 0), round: Number(fields.round ?? 0), trial: Number(fields.trial ?? 0),
    });
    state.open = true;
  }
}

// The teams as the order sees them: their next drop beside them, done where there is none.
export function teamsOf(state) {
  return state.teams.map((team) => {
    const next = nextDrop(team);
    return {
      id: team.id, name: team.name, round: team.round, wanted: team.wanted,
      trial: next?.trial ?? 0, attempt: next?.attempt ?? 0,
      state: next ? (team.state === "building" ? "building" : "ready") : "done",
    };
  });
}

const keyOf = (one) => `${one.id ?? one.team}-${one.round}-${one.trial}`;

// As drop_queue.build_queue: `moves` are those since the station was stopped last.
export function orderTurns(teams, moves, lastFirst, reference) {
  const skips = new Map();
  let called = [];
  for (const move of moves) {
    const key = keyOf(move);
    if (move.move === "skip") {
      skips.set(key, (skips.get(key) ?? 0) + 1);
      called = called.filter((one) => one !== key);
    } else if (move.move === "call") {
      called = [...called.filter((one) => one !== key), key];
    }
  }
  const start = teams.findIndex((team) => team.id === lastFirst) + 1;
  const place = new Map(teams.map((team, index) => [team.id, (index - start + teams.length) % teams.length]));
  const skipped = (team) => skips.get(keyOf(team)) ?? 0;
  const turns = teams
    .filter((team) => team.state === "ready")
    .sort((a, b) => a.trial - b.trial || skipped(a) - skipped(b) || place.get(a.id) - place.get(b.id));
  for (const key of called) turns.sort((a, b) => (keyOf(a) !== key) - (keyOf(b) !== key));
  const leftOut = moves.some((move) => move.move === "noref");
  return {
    turns,
    building: teams.filter((team) => team.state === "building"),
    done: teams.filter((team) => team.state === "done"),
    referenceDue: reference !== null && reference < REFERENCE_DROPS && !leftOut,
    skipped: new Set(turns.filter(skipped).map((team) => team.id)),
  };
}

// The whole queue of a state with this phone's own entries laid over it.
export function queueOf(state, items) {
  const now = layOver(state, items);
  const queue = orderTurns(teamsOf(now), now.moves, now.lastFirst, now.reference);
  return { ...queue, open: now.open, reference: now.reference ?? 0 };
}

// A typed stopwatch time in whole hundredths, or null: 4.62, 4,6 and 5 can be read, 4.625 cannot.
export function hundredthsOf(text) {
  const found = /^(\d{1,3})(?:[.,](\d{1,2}))?$/.exec(String(text).trim().replace(/\s*s(?:ec(?:onds?)?)?\.?$/i, ""));
  if (!found) return null;
  const hundredths = Number(found[1]) * 100 + Number((found[2] ?? "").padEnd(2, "0"));
  return hundredths > 0 && hundredths <= 60_000 ? hundredths : null;
}

export const secondsOf = (hundredths) => (hundredths / 100).toFixed(2);

// What counts of several stopwatches: the middle one of three, the mean of two, rounded half up.
export function timeThatCounts(times) {
  const sorted = [...times].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[middle] : Math.floor((sorted[middle - 1] + sorted[middle] + 1) / 2);
}
