// Three, two, one, drop: seen on the page and heard as tones that the page makes itself.

const STEP_MS = 1000;
const TONE_HZ = 660;
const DROP_HZ = 990;

let audio;

function tone(hertz, at, seconds) {
  const [voice, loudness] = [audio.createOscillator(), audio.createGain()];
  voice.frequency.value = hertz;
  // Faded in and out, so that it does not click.
  loudness.gain.setValueAtTime(0, at);
  loudness.gain.linearRampToValueAtTime(0.6, at + 0.01);
  loudness.gain.setValueAtTime(0.6, at + seconds - 0.03);
  loudness.gain.linearRampToValueAtTime(0, at + seconds);
  voice.connect(loudness).connect(audio.destination);
  voice.start(at);
  voice.stop(at + seconds);
}

function sound(steps) {
  try {
    audio ??= new AudioContext();
    audio.resume();
    const now = audio.currentTime + 0.05;
    for (let step = 0; step < steps; step += 1) {
      const last = step === steps - 1;
      tone(last ? DROP_HZ : TONE_HZ, now + (step * STEP_MS) / 1000, last ? 0.5 : 0.15);
    }
  } catch {
    // Without sound it can still be seen.
  }
}

// Show the words one after the other, a second each, with their tones; returns how to break off.
export function countDown(words, show) {
  sound(words.length);
  const timers = words.map((word, step) => setTimeout(() => show(word), step * STEP_MS));
  timers.push(setTimeout(() => show(""), words.length * STEP_MS + 500));
  return () => {
    for (const timer of timers) clearTimeout(timer);
    audio?.close();
    audio = undefined;
    show("");
  };
}
