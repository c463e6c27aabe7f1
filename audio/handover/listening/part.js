// What all of the page uses, and one part on it.

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
      const letter = String.fromCharCode(65 + (place % 26));
      $(".name", this.rows[k]).textContent = letter.repeat(1 + Math.floor(place / 26));
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
