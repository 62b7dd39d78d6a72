// Draws the interface's description from its OpenAPI document; nothing else is fetched.

function element(name, text = "", attributes = {}) {
  const made = document.createElement(name);
  made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function typeOf(schema = {}) {
  const bounds = [];
  if (schema.maxLength !== undefined) bounds.push(`at most ${schema.maxLength} characters`);
  if (schema.minimum !== undefined) bounds.push(`from ${schema.minimum}`);
  if (schema.maximum !== undefined) bounds.push(`to ${schema.maximum}`);
  if (schema.default !== undefined && schema.default !== "") bounds.push(`default ${schema.default}`);
  const kind = schema.type ?? (schema.anyOf ?? []).map((one) => one.type).join(" or ");
  return [kind, ...bounds].join(", ");
}

function parameters(operation) {
  const table = element("table");
  const head = table.createTHead().insertRow();
  for (const name of ["name", "in", "kind", "meaning"]) head.append(element("th", name));
  const body = table.createTBody();
  for (const one of operation.parameters ?? []) {
    const row = body.insertRow();
    for (const text of [one.name, one.in, typeOf(one.schema), one.description ?? ""]) {
      row.append(element("td", text));
    }
  }
  return table;
}

function bodies(operation, schemas) {
  return Object.entries(operation.requestBody?.content ?? {}).map(([kind, { schema }]) => {
    const named = schema?.$ref ? schemas[schema.$ref.split("/").pop()] : schema;
    const block = element("div");
    block.append(element("p", `body, ${kind}:`));
    if (named?.properties) {
      const lines = Object.entries(named.properties).map(([key, one]) => `${key}: ${typeOf(one)}`);
      block.append(element("pre", lines.join("\n")));
    } else {
      block.append(element("pre", named?.description ?? typeOf(named)));
    }
    return block;
  });
}

function route(path, method, operation, schemas) {
  const id = `${method}-${path}`.replace(/[^a-z0-9]+/gi, "-");
  const section = element("section", "", { id });
  const title = element("h3");
  title.append(element("code", method.toUpperCase(), { class: "method" }), element("code", path));
  section.append(title, element("p", operation.description ?? operation.summary ?? ""));
  if (operation.parameters?.length) section.append(parameters(operation));
  section.append(...bodies(operation, schemas));
  return { id, section };
}

const answer = await fetch("/openapi.json");
const described = await answer.json();
document.querySelector("#title").textContent = `${described.info.title} ${described.info.version}`;
document.querySelector("#about").textContent = described.info.description;
const schemas = described.components?.schemas ?? {};
const groups = new Map();
for (const [path, methods] of Object.entries(described.paths)) {
  for (const [method, operation] of Object.entries(methods)) {
    const tag = operation.tags?.[0] ?? "service";
    if (!groups.has(tag)) groups.set(tag, []);
    groups.get(tag).push({ path, method, ...route(path, method, operation, schemas) });
  }
}
const contents = element("ul");
for (const [tag, routes] of groups) {
  document.querySelector("#routes").append(element("h2", tag));
  for (const { path, method, id, section } of routes) {
    document.querySelector("#routes").append(section);
    const item = element("li");
    item.append(element("a", `${method.toUpperCase()} ${path}`, { href: `#${id}` }));
    contents.append(item);
  }
}
document.querySelector("#contents").append(contents);
