// All sounds of a part run together on one frame counter; a flip is nothing but gains.

const LEAD_S = 0.08; // what starts is scheduled so far ahead: no busy moment makes it late
const SAFE_S = 0.03; // what would start sooner than this is tried again
const TURN_S = 0.02; // the same for gains, which may be a moment late without harm
const AHEAD_S = 2.5; // scheduled beforehand: timers of a hidden page run once a second
const LOAD_S = 14; // loaded beforehand
const HEARD_S = 1.5; // the sound that is heard is loaded before others that are needed so much sooner
const FLIP_S = 0.01;
const SEAM_S = 0.005;

// A track's pieces: where they begin on the part's timeline, and which are not silent.
class Track {
  constructor(track, part) {
    Object.assign(this, track);
    this.part = part;
  }

  edge(number) {
    const { first, each } = this.part;
    const own = number === 0 ? 0 : Math.min(this.frames, first + (number - 1) * each);
    return this.at + own;
  }

  // The number of the piece in which a frame of the part lies; may be none of its pieces'.
  piece(frame) {
    const own = frame - this.at;
    if (own < 0 || own >= this.frames) return -1;
    const { first, each } = this.part;
    return own < first ? 0 : 1 + Math.floor((own - first) / each);
  }

  has(number) {
    return number >= this.from && number <= this.to;
  }

  // The numbers of the pieces that sound somewhere from one frame to before another.
  *between(from, to) {
    const last = Math.min(this.to, to > this.at + this.frames ? this.to : this.piece(to - 1));
    for (let n = Math.max(this.from, this.piece(Math.max(from, this.at))); n <= last; n++) {
      if (this.edge(n + 1) > from && this.edge(n) < to) yield n;
    }
  }
}

// Plays a part on a context whose rate is the part's. All places are whole frames: `now` and `at` count the
// context's, `from`, `to` and `position` the part's.
class Player {
  constructor({ context, part, store, heard = 0, matched = true, backing = 0 }) {
    this.context = context;
    this.part = part;
    this.store = store;
    this.rate = part.rate;
    this.matched = matched;
    this.backing = backing;
    this.heard = heard;
    this.loop = { from: 0, to: part.frames };
    this.position = 0; // where it will begin
    this.runs = []; // stretches that follow each other: {at, from, to}
    this.door = this.gain(0);
    this.seam = this.gain(1);
    this.seam.connect(this.door).connect(context.destination);
    this.sounds = part.sounds.map((one, index) => this.voice(one, index === heard));
    this.voices = this.sounds;
    if (part.backing) {
      this.under = this.voice(part.backing, true);
      this.voices = [...this.sounds, this.under];
    }
    this.level(0);
    this.flipEnds = 0;
  }

  gain(value) {
    const node = this.context.createGain();
    node.gain.value = value;
    return node;
  }

  voice(sound, heard) {
    const voice = {
      sound,
      track: new Track(sound.track, this.part),
      flip: this.gain(heard ? 1 : 0),
      turned: this.gain(1),
      angle: heard ? Math.PI / 2 : 0,
      laid: new Map(), // "at of its run:number of its piece": {source, at, end}
    };
    voice.turned.connect(voice.flip).connect(this.seam);
    return voice;
  }

  get playing() {
    return this.runs.length > 0;
  }

  now() {
    return Math.round(this.context.currentTime * this.rate);
  }

  frames(seconds) {
    return Math.round(seconds * this.rate);
  }

  time(at) {
    return at / this.rate;
  }

  // Where in the part a frame of the context lies; before the beginning, at the beginning.
  place(at) {
    if (!this.playing) return this.position;
    let run = this.runs[0];
    for (const one of this.runs) if (one.at <= at) run = one;
    return Math.min(run.from + Math.max(0, at - run.at), run.to);
  }

  play() {
    const at = this.now() + this.frames(LEAD_S);
    const { from, to } = this.loop;
    if (this.position < from || this.position >= to) this.position = from;
    this.runs = [{ at, from: this.position, to }];
    const door = this.door.gain;
    door.cancelScheduledValues(0);
    door.setValueAtTime(0, this.time(at));
    door.linearRampToValueAtTime(1, this.time(at + this.frames(SEAM_S)));
    this.seam.gain.cancelScheduledValues(0);
    this.seam.gain.setValueAtTime(1, 0);
    this.tick();
  }

  stop() {
    if (!this.playing) return;
    const at = this.now() + this.frames(TURN_S);
    const end = at + this.frames(FLIP_S);
    this.position = this.place(at);
    const door = this.door.gain;
    door.cancelScheduledValues(0);
    door.setValueAtTime(1, this.time(at));
    door.linearRampToValueAtTime(0, this.time(end));
    this.cut(end);
    this.runs = [];
  }

  // Let nothing that is scheduled sound from a frame on.
  cut(at) {
    for (const voice of this.voices) {
      for (const [key, one] of voice.laid) {
        if (one.end <= at) continue;
        // Half a frame before: rounding then never lets one more through.
        one.source.stop(this.time(Math.max(0, at - 0.5)));
        if (one.at >= at) one.source.disconnect();
        voice.laid.delete(key);
      }
    }
  }

  seek(position) {
    if (this.playing) this.relay(position);
    else this.position = position;
  }

  // Go round another stretch: on, where what plays lies in it, else from its beginning.
  goRound(loop) {
    this.loop = loop;
    if (!this.playing) {
      if (this.position < loop.from || this.position >= loop.to) this.position = loop.from;
      return;
    }
    const next = this.place(this.now() + this.frames(LEAD_S));
    this.relay(next >= loop.from && next < loop.to ? null : loop.from);
  }

  // From a frame a moment ahead on, go on elsewhere in the part, or (null) where it is then.
  relay(position) {
    const at = this.now() + this.frames(LEAD_S);
    let next = position ?? this.place(at);
    if (next < this.loop.from || next >= this.loop.to) next = this.loop.from;
    const before = this.runs.filter((one) => one.at < at);
    const last = before.at(-1);
    if (last) last.to = Math.min(last.to, last.from + at - last.at);
    this.cut(at);
    this.runs = [...before, { at, from: next, to: this.loop.to }];
    this.seam.gain.cancelScheduledValues(this.time(at - this.frames(SEAM_S)));
    if (position !== null) this.fadeOver(at);
    else this.seam.gain.setValueAtTime(1, this.time(at));
    this.tick();
  }

  fadeOver(at) {
    const seam = this.seam.gain;
    const fade = this.frames(SEAM_S);
    seam.setValueAtTime(1, this.time(at - fade));
    seam.linearRampToValueAtTime(0, this.time(at));
    seam.linearRampToValueAtTime(1, this.time(at + fade));
  }

  // Hear another sound: one fade of equal power, on the same frames for all.
  flip(index) {
    if (index === this.heard) return;
    this.heard = index;
    const length = this.frames(FLIP_S);
    const at = Math.max(this.now() + this.frames(TURN_S), this.flipEnds);
    this.flipEnds = at + length + 1; // one frame between them: seconds are rounded, and curves may not overlap
    this.sounds.forEach((voice, k) => {
      const from = voice.angle;
      const to = k === index ? Math.PI / 2 : 0;
      voice.angle = to;
      if (from === to) return;
      const steps = 64;
      const curve = Float32Array.from({ length: steps + 1 }, (_, n) =>
        n === steps ? Number(to > 0) : Math.sin(from + ((to - from) * n) / steps),
      );
      voice.flip.gain.setValueCurveAtTime(curve, this.time(at), this.time(length));
    });
    if (this.playing) this.tick();
  }

  // Turn to the gains as they should be: matched or as loud as they are, the backing where its fader is.
  level(softly = 0.015) {
    const which = this.matched ? "matched" : "plain";
    for (const voice of this.voices) {
      const fader = voice === this.under ? this.backing : 1;
      const gain = voice.sound[which] * fader;
      const param = voice.turned.gain;
      if (softly && this.playing) param.setTargetAtTime(gain, this.time(this.now()), softly);
      else {
        param.cancelScheduledValues(0);
        param.value = gain;
      }
    }
  }

  // Schedule what comes and ask for what has to be loaded; again and again while it plays.
  tick() {
    if (this.playing) {
      this.lay();
      for (const voice of this.voices) this.fill(voice);
    }
    this.store.want(this.wanted());
  }

  lay() {
    const now = this.now();
    const horizon = now + this.frames(AHEAD_S);
    while (true) {
      const last = this.runs.at(-1);
      const end = last.at + last.to - last.from;
      if (end >= horizon) break;
      this.runs.push({ at: end, from: this.loop.from, to: this.loop.to });
      this.fadeOver(end);
    }
    // The one before is kept for a while: what is heard lies behind what is computed.
    this.runs = this.runs.filter((one) => one.at + one.to - one.from > now - this.rate);
  }

  fill(voice) {
    const now = this.now();
    const soon = now + this.frames(LEAD_S);
    const horizon = now + this.frames(AHEAD_S);
    for (const [key, one] of voice.laid) if (one.end < now) voice.laid.delete(key);
    for (const run of this.runs) {
      for (const number of voice.track.between(run.from, run.to)) {
        const begins = voice.track.edge(number);
        let at = run.at + Math.max(begins, run.from) - run.from;
        const end = run.at + Math.min(voice.track.edge(number + 1), run.to) - run.from;
        if (at >= horizon) break;
        const key = `${run.at}:${number}`;
        if (end <= soon || voice.laid.has(key)) continue;
        const buffer = this.store.get(voice.track.id, number);
        if (!buffer) continue;
        const late = at < soon;
        if (late) at = soon;
        this.start(voice, key, buffer, { at, end, skip: run.from + at - run.at - begins, late });
      }
    }
  }

  start(voice, key, buffer, { at, end, skip, late }) {
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    let to = voice.turned;
    if (late) {
      to = this.gain(0);
      to.gain.setValueAtTime(0, this.time(at));
      to.gain.linearRampToValueAtTime(1, this.time(at + this.frames(SEAM_S)));
      to.connect(voice.turned);
    }
    source.connect(to);
    source.start(this.time(at), skip / this.rate);
    // Where the piece goes on behind its end, the loop's; else it ends by itself, to the frame.
    if (end - at < buffer.length - skip) source.stop(this.time(end - 0.5));
    // A browser that was busy meanwhile would begin now, out of step with the others: it is tried again.
    if (this.now() > at - this.frames(SAFE_S)) {
      source.disconnect();
      return;
    }
    voice.laid.set(key, { source, at, end });
  }

  // What has to be loaded, the most urgent first.
  wanted() {
    const found = [];
    let from = this.place(this.now());
    let due = 0;
    let rest = this.playing ? this.frames(LOAD_S) : 1;
    while (rest > 0) {
      const to = Math.min(this.loop.to, from + rest);
      for (const [index, voice] of this.voices.entries()) {
        const bonus = index === this.heard ? HEARD_S : 0;
        for (const number of voice.track.between(from, to)) {
          const when = due + Math.max(0, voice.track.edge(number) - from) / this.rate;
          found.push({ id: voice.track.id, number, rate: this.rate, rank: when - bonus });
        }
      }
      if (to <= from) break;
      rest -= to - from;
      due += (to - from) / this.rate;
      from = this.loop.from;
    }
    return found.sort((a, b) => a.rank - b.rank);
  }

  // How a sound stands where it plays now: "there", "loading", "missing" or "silent".
  state(index, at = this.now()) {
    const { track } = this.sounds[index];
    const number = track.piece(this.place(at));
    if (!track.has(number)) return "silent";
    if (this.store.isMissing(track.id, number)) return "missing";
    return this.store.kept.has(`${track.id}-${number}`) ? "there" : "loading";
  }
}
