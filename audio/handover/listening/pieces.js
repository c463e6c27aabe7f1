// Pieces of sound: each is a script that calls secondpass.piece(). A page that is opened from disk may load
// scripts, but may not read files.

const BUDGET = 150e6; // bytes of decoded sound that are kept

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
