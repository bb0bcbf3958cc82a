// The address of a source: kind:place#key=value,key=value. It is one line of
// text; the fields of a kind are views of its parts.
export interface Parts { kind: string; place: string; options: Record<string, string> }

export function parse(text: string): Parts {
  const cut = text.indexOf('#')
  const main = cut < 0 ? text : text.slice(0, cut)
  const colon = main.indexOf(':')
  const options: Record<string, string> = {}
  for (const part of cut < 0 ? [] : text.slice(cut + 1).split(',')) {
    const eq = part.indexOf('=')
    if (eq > 0) {
      const v = part.slice(eq + 1)
      try {
        options[part.slice(0, eq).trim()] = decodeURIComponent(v)
      } catch {
        options[part.slice(0, eq).trim()] = v
      }
    }
  }
  return colon < 0 ? { kind: '', place: main, options } : { kind: main.slice(0, colon), place: main.slice(colon + 1), options }
}

const safe = (v: string) => v.replace(/[%,\\]/g, c => '%' + c.charCodeAt(0).toString(16).toUpperCase())

export function format(p: Parts): string {
  const o = Object.entries(p.options).filter(([, v]) => v !== '').sort(([a], [b]) => (a < b ? -1 : 1)).map(([k, v]) => k + '=' + safe(v)).join(',')
  return (p.kind ? p.kind + ':' : '') + p.place + (o ? '#' + o : '')
}
