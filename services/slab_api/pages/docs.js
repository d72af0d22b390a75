// Text only ever enters the page as text content, so nothing in the contract can become markup.
const make = (tag, text, ...inner) => { const e = document.createElement(tag);
  if (text) e.textContent = text; e.append(...inner); return e; };
const name = s => !s ? '' : s.$ref ? s.$ref.split('/').pop() : s.anyOf ? s.anyOf.map(name).join(' | ')
  : s.type === 'array' ? name(s.items) + '[]' : [].concat(s.type || '').join(' | ') + (s.format ? ` (${s.format})` : '');
const table = (head, rows) => make('table', '', make('tr', '', ...head.map(h => make('th', h))),
  ...rows.map(r => make('tr', '', ...r.map(c => make('td', c)))));
const shape = (all, ref) => { const key = name(ref), s = all[key]; if (!s || !s.properties) return [];
  const need = s.required || []; return [make('h4', key), table(['field', 'kind', 'meaning'],
  Object.entries(s.properties).map(([k, v]) => [k + (need.includes(k) ? ' *' : ''), name(v), v.description || '']))]; };
const operation = (api, path, verb, op) => { const d = make('details'), all = api.components.schemas;
  d.id = op.operationId;
  d.append(make('summary', '', make('b', verb.toUpperCase()), make('code', path), document.createTextNode(' ' + op.summary)));
  d.append(make('p', op.description || ''));
  if (op.parameters) d.append(table(['parameter', 'in', 'meaning'], op.parameters.map(p =>
    [p.name + (p.required ? ' *' : ''), p.in, p.description || ''])));
  for (const [kind, c] of Object.entries((op.requestBody || {content: {}}).content)) {
    d.append(make('h3', 'Body: ' + kind), ...shape(all, c.schema));
    if (c.example) d.append(make('pre', JSON.stringify(c.example, null, 2))); }
  d.append(make('h3', 'Answers'));
  for (const [code, r] of Object.entries(op.responses)) d.append(make('p', code + '  ' + r.description + '  ' +
    Object.entries(r.content || {}).map(([k, c]) => k + ': ' + name(c.schema)).join(', ')));
  const ok = Object.entries(op.responses).find(([c]) => c < '300');
  if (ok) for (const c of Object.values(ok[1].content || {})) d.append(...shape(all, c.schema));
  return d; };
fetch('openapi.json').then(r => r.json()).then(api => { const main = document.querySelector('main');
  main.replaceChildren(make('h1', api.info.title + ' ' + api.info.version), make('p', api.info.description));
  for (const tag of api.tags) { main.append(make('h2', tag.name), make('p', tag.description));
    for (const [path, verbs] of Object.entries(api.paths)) for (const [verb, op] of Object.entries(verbs))
      if ((op.tags || []).includes(tag.name)) main.append(operation(api, path, verb, op)); }
  const there = location.hash && document.getElementById(location.hash.slice(1)); if (there) there.open = true;
}).catch(() => { document.querySelector('main').textContent = 'The contract is at openapi.json.'; });
