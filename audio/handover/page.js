"use strict";
// The listening page. All sounds of a part run together on one frame counter; a flip is nothing but gains.
// Sound comes in pieces, each a script that calls secondpass.piece(): a page that is opened from disk may
// load scripts, but may not read files.
(() => {
  const LEAD_S = 0.08; // what starts is scheduled so far ahead: no busy moment makes it late
  const SAFE_S = 0.03; // what would start sooner than this is tried again
  const TURN_S = 0.02; // the same for gains, which may be a moment late without harm
  const AHEAD_S = 2.5; // scheduled beforehand: timers of a hidden page run once a second
  const LOAD_S = 14; // loaded beforehand
  const HEARD_S = 1.5; // the sound that is heard is loaded before others that are needed so much sooner
  const FLIP_S = 0.01;
  const SEAM_S = 0.005;
  const TICK_MS = 100;
  const PATIENCE_TICKS = 3; // so long a gap of what is heard is let pass; then playing waits for it
  const BUDGET = 150e6; // bytes of decoded sound that are kept
  const SHORTEST_S = 0.5; // of a loop
  const LOWEST_DB = -40; // a backing track lower than that is off
  const NO_WEB_AUDIO = "This browser has no Web Audio: open this page in a newer one to hear it.";

  // ------------------------------------------------------------ the text that is sent back

  const TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
    for (let k = 0; k < 8; k++) n = n & 1 ? 0xedb88320 ^ (n >>> 1) : n >>> 1;
    return n;
  });

  function crc32(bytes) {
    let c = ~0;
    for (const b of bytes) c = TABLE[(c ^ b) & 255] ^ (c >>> 8);
    return (~c >>> 0).toString(16).padStart(8, "0");
  }

  // One line without anything that cannot be seen.
  function oneLine(text, longest) {
    const seen = text.normalize("NFC").replace(/[\p{C}\p{Zl}\p{Zp}]/gu, "").replace(/\s+/gu, " ").trim();
    return [...seen].slice(0, longest).join("").trim();
  }

  // parts: [{name, chosen: [key], blind, words}]
  function choiceText({ name, token, by, parts }) {
    const chosen = parts.filter((one) => one.chosen.length);
    const blind = chosen.length > 0 && chosen.every((one) => one.blind);
    const lines = [`for: ${name} ${token}`, `by: ${oneLine(by, 40)}`, `blind: ${blind ? "yes" : "no"}`];
    for (const one of parts) {
      lines.push(`${one.name}: ${one.chosen.length ? one.chosen.join(", ") : "nothing"}`);
      const words = oneLine(one.words, 200);
      if (words) lines.push(`words: ${words}`);
    }
    // Quoting marks, wrapped lines and smart quotes of a mail change nothing of what is summed.
    const summed = lines.join("").normalize("NFC").replace(/[^\p{L}\p{N}]/gu, "");
    const sum = crc32(new TextEncoder().encode(summed));
    return ["secondpass choice", ...lines, `end of choice ${sum}`, ""].join("\n");
  }

  // ------------------------------------------------------------ pieces of sound

  function decoded(rate, bytes) {
    return new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes);
  }

  function fromBase64(text) {
    const raw = atob(text);
    const bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    return bytes.buffer;
  }

  // Loads what is wanted, the most urgent first, and forgets what was not heard for longest.
  class Store {
    constructor({ changed = () => {}, budget = BUDGET, atOnce = 2 } = {}) {
      this.changed = changed;
      this.budget = budget;
      this.atOnce = atOnce;
      this.kept = new Map(); // key: AudioBuffer, least recently heard first
      this.size = 0;
      this.came = new Map(); // key: base64, between a script's call and its end
      this.loading = new Set();
      this.missing = new Map(); // key: why
      this.wanted = [];
      api.stores.add(this);
    }

    get(id, number) {
      const key = `${id}-${number}`;
      const buffer = this.kept.get(key);
      if (buffer) {
        this.kept.delete(key);
        this.kept.set(key, buffer);
      }
      return buffer;
    }

    isMissing(id, number) {
      return this.missing.has(`${id}-${number}`);
    }

    // wanted: [{id, number, rate}], the most urgent first; what was wanted before is no longer.
    want(wanted) {
      this.wanted = wanted;
      for (const one of wanted) {
        if (this.loading.size >= this.atOnce) return;
        const key = `${one.id}-${one.number}`;
        if (!this.kept.has(key) && !this.loading.has(key) && !this.missing.has(key)) this.load(key, one.rate);
      }
    }

    again() {
      this.missing.clear();
    }

    load(key, rate) {
      this.loading.add(key);
      const script = document.createElement("script");
      script.src = `sounds/${key}.js`;
      script.onload = () => this.loaded(key, rate, script);
      script.onerror = () => {
        script.remove();
        this.failed(key, `sounds/${key}.js is missing: copy the whole folder, with everything in it.`);
      };
      document.head.append(script);
    }

    async loaded(key, rate, script) {
      script.remove();
      const text = this.came.get(key);
      this.came.delete(key);
      if (text === undefined) {
        this.failed(key, `sounds/${key}.js is damaged: copy the folder again.`);
        return;
      }
      try {
        this.keep(key, await decoded(rate, fromBase64(text)));
      } catch {
        this.failed(
          key,
          `This browser cannot decode sounds/${key}.js. It is FLAC: open this page in a newer browser, ` +
            "or copy the folder again if others play.",
        );
      }
    }

    keep(key, buffer) {
      this.loading.delete(key);
      this.kept.set(key, buffer);
      this.size += bytesOf(buffer);
      const needed = new Set(this.wanted.map((one) => `${one.id}-${one.number}`));
      for (const [old, one] of this.kept) {
        if (this.size <= this.budget) break;
        if (old === key || needed.has(old)) continue;
        this.kept.delete(old);
        this.size -= bytesOf(one);
      }
      this.changed();
      this.want(this.wanted);
    }

    failed(key, why) {
      this.loading.delete(key);
      this.missing.set(key, why);
      this.changed();
      this.want(this.wanted);
    }
  }

  const bytesOf = (buffer) => 4 * buffer.length * buffer.numberOfChannels;

  // ------------------------------------------------------------ playing

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
      this.flipEnds = at + length;
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
      source.stop(this.time(end - 0.5));
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

  // ------------------------------------------------------------ the page

  const $ = (selector, of = document) => of.querySelector(selector);
  const $$ = (selector, of = document) => [...of.querySelectorAll(selector)];
  const ORDINAL = ["1st", "2nd", "3rd"];
  const ordinal = (n) => ORDINAL[n] ?? `${n + 1}th`;
  const minus = (text) => String(text).replace("-", "\u2212");

  function clock(seconds) {
    const whole = Math.floor(seconds);
    return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
  }

  // 0 to below n, each as likely.
  function drawn(n) {
    const most = Math.floor(2 ** 32 / n) * n;
    const one = new Uint32Array(1);
    do crypto.getRandomValues(one);
    while (one[0] >= most);
    return one[0] % n;
  }

  function shuffled(list) {
    const left = [...list];
    for (let k = left.length - 1; k > 0; k--) {
      const other = drawn(k + 1);
      [left[k], left[other]] = [left[other], left[k]];
    }
    return left;
  }

  // What is remembered between two visits, where the browser lets a page remember at all.
  class Memory {
    constructor(key) {
      this.key = key;
    }

    read() {
      try {
        return JSON.parse(localStorage.getItem(this.key)) ?? {};
      } catch {
        return {};
      }
    }

    write(value) {
      try {
        localStorage.setItem(this.key, JSON.stringify(value));
      } catch {
        // The text can be copied all the same.
      }
    }
  }

  // One part on the page: its sounds, what was chosen, whether names are hidden.
  class PartView {
    constructor(page, part, element, index) {
      this.page = page;
      this.part = part;
      this.element = element;
      this.index = index;
      this.heard = 0;
      this.loop = { from: 0, to: part.frames };
      this.chosen = []; // indexes of sounds
      this.madeBlind = false;
      this.blind = false;
      this.list = $(".sounds", element);
      this.rows = $$(".row", element); // by index of the sound, wherever it stands
      this.names = this.rows.map((row) => $(".name", row).textContent);
      this.words = $(".words", element);
      this.rows.forEach((row, k) => {
        $(".sound", row).addEventListener("click", () => page.hear(this, k));
        $(".choose", row).addEventListener("click", () => this.choose(k));
      });
      this.words.addEventListener("input", () => page.choiceChanged());
      $(".hide", element).addEventListener("click", () => (this.blind ? this.reveal() : this.hide()));
      this.show();
    }

    order() {
      return $$(".row", this.list).map((row) => this.rows.indexOf(row));
    }

    // What a sound is called now, by letter where names are hidden.
    title(k) {
      return $(".name", this.rows[k]).textContent;
    }

    hide() {
      const lost = this.chosen.length > 0;
      this.chosen = [];
      this.madeBlind = false;
      this.blind = true;
      const order = shuffled(this.rows.keys());
      this.list.append(...order.map((k) => this.rows[k]));
      order.forEach((k, place) => {
        $(".name", this.rows[k]).textContent = String.fromCharCode(65 + (place % 26)).repeat(1 + Math.floor(place / 26));
      });
      if (this.page.current === this) this.page.hear(this, order[0]);
      else this.heard = order[0];
      this.page.choiceChanged();
      this.page.say(`${this.part.name}: names are hidden.${lost ? " What was chosen before is taken out." : ""}`);
      this.show();
    }

    reveal() {
      this.blind = false;
      this.list.append(...this.rows);
      this.rows.forEach((row, k) => ($(".name", row).textContent = this.names[k]));
      this.page.say(`${this.part.name}: these are the names.`);
      this.show();
      this.page.show();
    }

    choose(k) {
      if (!this.chosen.length) this.madeBlind = this.blind;
      this.madeBlind = this.madeBlind && this.blind;
      const there = this.chosen.includes(k);
      this.chosen = there ? this.chosen.filter((one) => one !== k) : [...this.chosen, k];
      this.page.choiceChanged();
      this.page.say(`${this.title(k)}: ${there ? "taken out" : `${ordinal(this.chosen.length - 1)} choice`}.`);
      this.show();
    }

    show() {
      this.element.classList.toggle("blind", this.blind);
      const hide = $(".hide", this.element);
      hide.textContent = this.blind ? "Show the names" : "Hide the names";
      this.order().forEach((k, place) => {
        const row = this.rows[k];
        $(".digit", row).textContent = place < 9 ? String(place + 1) : "";
        for (const one of $$(".told", row)) one.hidden = this.blind;
        const rank = this.chosen.indexOf(k);
        const choose = $(".choose", row);
        choose.textContent = rank < 0 ? "choose" : ordinal(rank);
        choose.setAttribute("aria-pressed", String(rank >= 0));
        choose.setAttribute("aria-label", `${choose.textContent}${rank < 0 ? "" : " choice"}: ${this.title(k)}`);
      });
      this.mark();
    }

    // Say by word and shape which sound is heard, and which is not there yet.
    mark() {
      const { page } = this;
      const mine = page.current === this;
      this.rows.forEach((row, k) => {
        const heard = mine && k === this.heard;
        const button = $(".sound", row);
        button.setAttribute("aria-pressed", String(heard));
        let word = heard ? (page.playing ? "playing" : "selected") : "";
        if (mine && page.playing) {
          const state = page.player.state(k);
          if (state === "loading") word = "loading…";
          if (state === "missing") word = "missing";
          if (state === "silent") word = heard ? "silent here" : "";
        } else if (heard && page.waiting) word = "loading…";
        const told = $(".state", row);
        if (told.textContent !== word) told.textContent = word;
      });
    }
  }

  class Page {
    constructor(data) {
      this.data = data;
      this.contexts = new Map();
      this.players = new Map();
      this.matched = true;
      this.backingDb = -6;
      this.backingOn = true;
      this.waiting = false;
      this.gap = 0; // ticks since what is heard is not there
      this.cannot = window.AudioContext && window.OfflineAudioContext ? "" : NO_WEB_AUDIO;
      this.store = new Store({ changed: () => this.changed() });
      this.memory = new Memory(`secondpass ${data.name} ${data.token}`);
      this.views = $$(".part").map((element, k) => new PartView(this, data.parts[k], element, k));
      this.current = this.views[0];
      this.bind();
      this.recall();
      this.choiceChanged();
      this.turnTo(this.current);
      this.trouble(this.cannot);
      $("#play").disabled = this.cannot !== "";
      setInterval(() => this.tick(), TICK_MS);
    }

    // ------------------------------------------------------------ the player of the current part

    get player() {
      return this.players.get(this.current);
    }

    get playing() {
      return Boolean(this.player?.playing);
    }

    // A context is made by a press, as browsers want it, at the part's own rate.
    ready() {
      const { part } = this.current;
      if (!this.contexts.has(part.rate)) {
        const context = new AudioContext({ sampleRate: part.rate, latencyHint: "interactive" });
        context.onstatechange = () => {
          // Somebody else took the loudspeaker, a call perhaps: nothing starts again by itself.
          if (context.state !== "running" && this.playing && this.player.context === context) {
            this.player.stop();
            this.show();
          }
        };
        this.contexts.set(part.rate, context);
      }
      const context = this.contexts.get(part.rate);
      if (!this.players.has(this.current)) {
        const player = new Player({ context, part, store: this.store, heard: this.current.heard });
        player.loop = this.current.loop;
        player.position = this.current.position ?? player.loop.from;
        this.players.set(this.current, player);
      }
      this.turn();
      return context.state === "running" ? null : context.resume();
    }

    async toggle() {
      if (this.cannot) return;
      if (this.playing || this.waiting) {
        this.halt();
        return;
      }
      this.waiting = true;
      this.store.again();
      try {
        await this.ready();
      } catch {
        this.waiting = false;
        this.trouble(`This browser cannot play at ${this.current.part.rate} frames a second: open this page in a newer one.`);
        return;
      }
      this.begin();
    }

    // Begin once the sound that is heard is there; others join when they are.
    begin() {
      if (!this.waiting) return;
      const { player } = this;
      if (player.state(this.current.heard) === "loading") player.tick();
      else {
        this.waiting = false;
        player.play();
        this.animate();
      }
      this.show();
    }

    halt() {
      this.waiting = false;
      this.player?.stop();
      this.show();
    }

    tick() {
      if (this.playing) this.player.tick();
      this.gap = this.playing && this.player.state(this.current.heard) === "loading" ? this.gap + 1 : 0;
      if (this.gap > PATIENCE_TICKS) this.hold();
      if (this.playing || this.waiting) this.current.mark();
    }

    // Wait for what is heard, then go on where it stopped being there.
    hold() {
      const { player, current } = this;
      player.stop();
      const back = (player.rate * PATIENCE_TICKS * TICK_MS) / 1000;
      player.position = Math.max(current.loop.from, Math.round(player.position - back));
      this.waiting = true;
      player.tick();
      this.show();
    }

    // A piece came, or did not.
    changed() {
      this.trouble([...this.store.missing.values()][0] ?? this.cannot);
      if (this.waiting && this.player) this.begin();
      if (this.playing) this.player.tick();
      this.current.mark();
    }

    hear(view, k) {
      const on = this.playing || this.waiting;
      if (view !== this.current) {
        if (on) this.halt();
        this.turnTo(view);
      }
      view.heard = k;
      this.player?.flip(k);
      const word = view.title(k);
      this.say(`${view.part.name}, ${view.order().indexOf(k) + 1}: ${word}`);
      if (this.waiting) this.begin();
      else if (on && !this.playing) this.toggle();
      else if (!this.playing) this.preload();
      this.show();
    }

    turnTo(view) {
      const before = this.current;
      this.current = view;
      before.mark();
      this.preload();
      this.showLoop();
      this.show();
    }

    // Load the first moments of what will be heard, before anything is pressed.
    preload() {
      const { part, heard, loop } = this.current;
      if (this.playing || this.cannot) return;
      const at = this.player?.position ?? loop.from;
      const ids = [part.sounds[heard], ...part.sounds, ...(part.backing ? [part.backing] : [])];
      const wanted = ids.map((one) => {
        const track = new Track(one.track, part);
        return { id: track.id, number: track.piece(at), rate: part.rate, there: track.has(track.piece(at)) };
      });
      this.store.want(wanted.filter((one) => one.there));
    }

    // Matched or not, and the backing's fader: the same for all parts.
    turn() {
      const { player } = this;
      if (!player) return;
      player.matched = this.matched;
      player.backing = this.backingOn && this.backingDb > LOWEST_DB ? 10 ** (this.backingDb / 20) : 0;
      player.level();
    }

    // ------------------------------------------------------------ loop

    get rate() {
      return this.current.part.rate;
    }

    // Where a loop may begin and end: bar lines, else whole seconds.
    lines() {
      const { bars, frames, rate } = this.current.part;
      if (bars.length > 1) return bars;
      const lines = [];
      for (let at = 0; at < frames; at += rate) lines.push(at);
      if (frames - lines.at(-1) < rate / 2 && lines.length > 1) lines.pop();
      return [...lines, frames];
    }

    position() {
      const { player } = this;
      if (!player) return this.current.position ?? this.current.loop.from;
      const late = (player.context.outputLatency || 0) * player.rate;
      return player.playing ? player.place(player.now() - Math.round(late)) : player.position;
    }

    // Go round from one line to another, numbers of `lines`.
    goRound(first, last, moved = "from") {
      const lines = this.lines();
      const most = lines.length - 2;
      let [a, b] = [first, last].map((one) => Math.min(Math.max(one, 0), most));
      if (a > b) [a, b] = moved === "from" ? [a, a] : [b, b];
      const least = SHORTEST_S * this.rate;
      while (b < most && lines[b + 1] - lines[a] < least) b++;
      while (a > 0 && lines[b + 1] - lines[a] < least) a--;
      const loop = { from: lines[a], to: lines[b + 1] };
      this.current.loop = loop;
      if (this.player) this.player.goRound(loop);
      else this.current.position = loop.from;
      this.showLoop();
      this.show();
      if (!this.playing) this.preload();
    }

    loopLines() {
      const lines = this.lines();
      const { from, to } = this.current.loop;
      const last = lines.indexOf(to);
      return [Math.max(0, lines.indexOf(from)), (last < 0 ? lines.length - 1 : last) - 1];
    }

    here(which) {
      const lines = this.lines();
      const at = this.position();
      let line = 0;
      while (line < lines.length - 2 && lines[line + 1] <= at) line++;
      const [a, b] = this.loopLines();
      if (which === "from") this.goRound(line, Math.max(b, line), "from");
      else this.goRound(Math.min(a, line), line, "to");
      this.say(`Loop ${this.loopWords()}.`);
    }

    loopWords() {
      const { bars, frames, firstBar, rate } = this.current.part;
      const { from, to } = this.current.loop;
      const [a, b] = this.loopLines();
      if (from === 0 && to === frames) return "the whole part";
      if (bars.length > 1) return a === b ? `bar ${minus(firstBar + a)}` : `bars ${minus(firstBar + a)} to ${minus(firstBar + b)}`;
      return `${clock(from / rate)} to ${clock(to / rate)}`;
    }

    showLoop() {
      const { bars, firstBar, frames } = this.current.part;
      const [a, b] = this.loopLines();
      const byBar = bars.length > 1;
      const lines = this.lines();
      const shift = byBar ? firstBar : 0;
      const from = $("#from");
      const to = $("#to");
      from.value = a + shift;
      to.value = byBar ? b + shift : b + 1;
      for (const [one, more] of [[from, 0], [to, byBar ? 0 : 1]]) {
        one.min = shift + more;
        one.max = shift + lines.length - 2 + more;
      }
      $$(".unit").forEach((one) => (one.textContent = byBar ? "bar" : "second"));
      $("#loop-words").textContent = this.loopWords();
      $("#whole").disabled = this.current.loop.from === 0 && this.current.loop.to === frames;
      const seek = $("#seek");
      seek.step = this.rate / 2;
      seek.max = frames;
    }

    typed(which) {
      const { bars, firstBar } = this.current.part;
      const byBar = bars.length > 1;
      const [a, b] = this.loopLines();
      const value = Math.round(Number($(`#${which}`).value));
      if (!Number.isFinite(value)) return this.showLoop();
      const line = byBar ? value - firstBar : which === "to" ? value - 1 : value;
      return which === "from" ? this.goRound(line, b, "from") : this.goRound(a, line, "to");
    }

    step(which, by) {
      const [a, b] = this.loopLines();
      if (which === "from") this.goRound(a + by, b, "from");
      else this.goRound(a, b + by, "to");
      this.say(`Loop ${this.loopWords()}.`);
    }

    // ------------------------------------------------------------ showing

    show() {
      const { current } = this;
      const on = this.playing || this.waiting;
      const play = $("#play");
      play.classList.toggle("on", on);
      $("#play-word").textContent = on ? "Stop" : "Play";
      $("#heard-part").textContent = current.part.name;
      $("#heard-name").textContent = current.title(current.heard);
      for (const view of this.views) view.element.classList.toggle("current", view === current);
      $("#backing-row").hidden = !current.part.backing;
      $("#no-backing").hidden = Boolean(current.part.backing);
      current.mark();
      this.showPlace();
    }

    showPlace() {
      const { part } = this.current;
      const at = this.position();
      let words = `${clock(at / part.rate)} of ${clock(part.frames / part.rate)}`;
      if (part.bars.length > 1) {
        let bar = 0;
        while (bar < part.bars.length - 2 && part.bars[bar + 1] <= at) bar++;
        words += `, bar ${minus(part.firstBar + bar)}`;
      }
      const place = $("#place");
      if (place.textContent !== words) {
        place.textContent = words;
        $("#seek").setAttribute("aria-valuetext", words);
      }
      if (!this.dragging) $("#seek").value = at;
    }

    animate() {
      if (!this.playing) return;
      this.showPlace();
      requestAnimationFrame(() => this.animate());
    }

    showBacking() {
      const off = this.backingDb <= LOWEST_DB;
      const words = off ? "off" : `${minus(this.backingDb)} dB`;
      $("#backing-words").textContent = words;
      $("#backing-db").setAttribute("aria-valuetext", words);
      $("#backing-on").checked = this.backingOn;
    }

    say(words) {
      $("#said").textContent = words;
    }

    trouble(words) {
      const place = $("#trouble");
      if (place.textContent !== words) place.textContent = words;
      place.hidden = !words;
    }

    // ------------------------------------------------------------ choice

    recall() {
      const { by = "", parts = {} } = this.memory.read();
      if (typeof by === "string") $("#by").value = by;
      for (const view of this.views) {
        const { chosen, blind, words } = parts?.[view.part.name] ?? {};
        const keys = view.part.sounds.map((one) => one.key);
        if (Array.isArray(chosen)) view.chosen = [...new Set(chosen)].map((key) => keys.indexOf(key)).filter((k) => k >= 0);
        view.madeBlind = blind === true;
        if (typeof words === "string") view.words.value = words;
        view.show();
      }
    }

    choiceChanged() {
      if (!this.views) return;
      const parts = this.views.map((view) => ({
        name: view.part.name,
        chosen: view.chosen.map((k) => view.part.sounds[k].key),
        blind: view.madeBlind,
        words: view.words.value,
      }));
      const by = $("#by").value;
      this.memory.write({ by, parts: Object.fromEntries(parts.map((one) => [one.name, one])) });
      const named = oneLine(by, 40) !== "";
      const { name, token } = this.data;
      // While names are hidden the text would tell them.
      const hidden = this.views.some((view) => view.blind && view.chosen.length);
      const text = $("#text");
      text.value = named && !hidden ? choiceText({ name, token, by, parts }) : "";
      text.rows = Math.max(8, text.value.split("\n").length + 1);
      $("#ask").textContent = hidden
        ? "Names are still hidden: show them in every part you chose in, then the text is here. It says that you chose blind."
        : named
          ? "Copy this text and send it back, by mail or as a message."
          : "Write your name first: then the text to send back is here.";
      $("#copy").disabled = !named || hidden;
      $("#copied").textContent = "";
    }

    async copy() {
      const text = $("#text");
      let done = false;
      try {
        await navigator.clipboard.writeText(text.value);
        done = true;
      } catch {
        text.focus();
        text.select();
        done = document.execCommand("copy");
      }
      $("#copied").textContent = done
        ? "Copied. Paste it into a mail or a message."
        : "The browser did not let it be copied: the text is selected, copy it by hand.";
    }

    // ------------------------------------------------------------ hands

    bind() {
      $("#play").addEventListener("click", () => this.toggle());
      $("#start").addEventListener("click", () => {
        if (this.player) this.player.seek(this.current.loop.from);
        else this.current.position = this.current.loop.from;
        this.showPlace();
      });
      const seek = $("#seek");
      seek.addEventListener("input", () => (this.dragging = true));
      seek.addEventListener("change", () => {
        this.dragging = false;
        const { from, to } = this.current.loop;
        const at = Math.min(Math.max(Math.round(Number(seek.value)), from), to - 1);
        if (this.player) this.player.seek(at);
        else this.current.position = at;
        this.showPlace();
        if (!this.playing) this.preload();
      });
      for (const which of ["from", "to"]) {
        $(`#${which}`).addEventListener("change", () => this.typed(which));
        $(`#${which}-less`).addEventListener("click", () => this.step(which, -1));
        $(`#${which}-more`).addEventListener("click", () => this.step(which, 1));
        $(`#${which}-here`).addEventListener("click", () => this.here(which));
      }
      $("#whole").addEventListener("click", () => this.goWhole());
      $("#backing-on").addEventListener("change", (event) => this.setBacking(event.target.checked));
      $("#backing-db").addEventListener("input", (event) => {
        this.backingDb = Number(event.target.value);
        this.turn();
        this.showBacking();
      });
      $("#matched").addEventListener("change", (event) => {
        this.matched = event.target.checked;
        this.turn();
      });
      $("#by").addEventListener("input", () => this.choiceChanged());
      $("#copy").addEventListener("click", () => this.copy());
      $("#hide-all").addEventListener("click", () => {
        for (const view of this.views) if (!view.blind) view.hide();
        this.say("All names are hidden.");
      });
      document.addEventListener("keydown", (event) => this.key(event));
      document.addEventListener("keyup", (event) => {
        // Some browsers press a button when space is let go.
        if (event.key === " " && event.target.matches(".sound")) event.preventDefault();
      });
      const wide = matchMedia("(min-width: 64rem)");
      const open = () => ($("#more").open = wide.matches);
      wide.addEventListener("change", open);
      open();
      this.showBacking();
    }

    goWhole() {
      this.goRound(0, this.lines().length - 2);
      this.say("Loop the whole part.");
    }

    setBacking(on) {
      this.backingOn = on;
      this.turn();
      this.showBacking();
    }

    // Move to the sound beside the one that is heard, or to the part beside.
    beside(by) {
      const order = this.current.order();
      const place = Math.min(Math.max(order.indexOf(this.current.heard) + by, 0), order.length - 1);
      this.hear(this.current, order[place]);
    }

    besidePart(by) {
      const place = Math.min(Math.max(this.current.index + by, 0), this.views.length - 1);
      const view = this.views[place];
      if (view === this.current) return;
      this.hear(view, view.heard);
      view.element.scrollIntoView({ block: "start" });
    }

    key(event) {
      if (event.ctrlKey || event.altKey || event.metaKey) return;
      const { target } = event;
      const typing = target.matches("input:not([type=checkbox]), textarea, select");
      const pressing = target.matches("button:not(.sound), summary, a, input");
      const done = () => {
        if (typing) return false;
        if (event.key === " ") return !pressing && (event.repeat || this.toggle(), true);
        if (/^[1-9]$/.test(event.key)) {
          const k = this.current.order()[Number(event.key) - 1];
          if (k !== undefined) this.hear(this.current, k);
          return k !== undefined;
        }
        const does = {
          ArrowLeft: () => this.beside(-1),
          ArrowRight: () => this.beside(1),
          "[": () => this.here("from"),
          "]": () => this.here("to"),
          w: () => this.goWhole(),
          b: () => this.setBacking(!this.backingOn),
          n: () => this.besidePart(1),
          p: () => this.besidePart(-1),
        }[event.key];
        does?.();
        return Boolean(does);
      };
      if (done()) event.preventDefault();
    }
  }

  // ------------------------------------------------------------ beginning

  const api = {
    Player,
    Store,
    choiceText,
    crc32,
    // Each piece is a script that calls this with its FLAC file in base64.
    piece(id, number, text) {
      for (const store of api.stores) if (store.loading.has(`${id}-${number}`)) store.came.set(`${id}-${number}`, text);
    },
    stores: new Set(),
  };
  window.secondpass = api;

  // Not sooner: a page is not called loaded while scripts it asked for before are on their way.
  window.addEventListener("load", () => {
    document.documentElement.classList.add("scripted");
    api.page = new Page(JSON.parse($("#data").textContent));
  });
})();
