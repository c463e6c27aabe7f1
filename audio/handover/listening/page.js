// The page: what it shows, what is chosen, and what hands do.

class Page extends Playing {
  constructor(data) {
    super();
    this.data = data;
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
      const known = Array.isArray(chosen) ? [...new Set(chosen)].map((key) => keys.indexOf(key)) : [];
      view.chosen = known.filter((k) => k >= 0);
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
      ? "Names are still hidden: show them in every part you chose in, then the text is here. " +
        "It says that you chose blind."
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
    const key = `${id}-${number}`;
    for (const store of api.stores) if (store.loading.has(key)) store.came.set(key, text);
  },
  stores: new Set(),
};
window.secondpass = api;

// Not sooner: a page is not called loaded while scripts it asked for before are on their way.
window.addEventListener("load", () => {
  document.documentElement.classList.add("scripted");
  api.page = new Page(JSON.parse($("#data").textContent));
});
