// Whose turn it is: the player of the current part, what it waits for and goes round.

const TICK_MS = 100;
const PATIENCE_TICKS = 3; // so long a gap of what is heard is let pass; then playing waits for it
const SHORTEST_S = 0.5; // of a loop
const LOWEST_DB = -40; // a backing track lower than that is off
const NO_WEB_AUDIO = "This browser has no Web Audio: open this page in a newer one to hear it.";

// What of the page plays; what it shows and says is the page's (show, mark, say, trouble).
class Playing {
  constructor() {
    this.contexts = new Map();
    this.players = new Map();
    this.matched = true;
    this.backingDb = -6;
    this.backingOn = true;
    this.waiting = false;
    this.gap = 0; // ticks since what is heard is not there
    this.cannot = window.AudioContext && window.OfflineAudioContext ? "" : NO_WEB_AUDIO;
    this.store = new Store({ changed: () => this.changed() });
  }

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
      const rate = this.current.part.rate;
      this.trouble(`This browser cannot play at ${rate} frames a second: open this page in a newer one.`);
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
    const [first, last] = [a, b].map((one) => minus(firstBar + one));
    if (bars.length > 1) return a === b ? `bar ${first}` : `bars ${first} to ${last}`;
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
}
