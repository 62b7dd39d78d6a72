/** Takes server-sent events apart (WHATWG HTML, section 9.2) as their text arrives in pieces. */
export class EventReader {
  #rest = "";
  #id = "";

  /** Return the events that a piece of text completes: [{id, name, data}]. */
  read(piece) {
    const blocks = (this.#rest + piece).replaceAll("\r\n", "\n").split("\n\n");
    this.#rest = blocks.pop();
    return blocks.map((block) => this.#event(block)).filter((event) => event !== null);
  }

  #event(block) {
    const data = [];
    let name = "message";
    for (const line of block.split("\n")) {
      const colon = line.indexOf(":");
      if (colon === 0) continue; // a comment keeps the line alive
      const field = colon < 0 ? line : line.slice(0, colon);
      const value = colon < 0 ? "" : line.slice(colon + 1).replace(/^ /, "");
      if (field === "id") this.#id = value;
      else if (field === "event") name = value;
      else if (field === "data") data.push(value);
    }
    return data.length ? { id: this.#id, name, data: data.join("\n") } : null;
  }
}
