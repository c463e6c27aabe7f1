// The text that is sent back.

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
