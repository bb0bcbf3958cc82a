import { signal } from '@preact/signals'
import { render } from 'preact'
import { ahead, begin, drawn, listen, settings, words, Wrong } from './api'
import { Bin } from './bin'
import { CheckSheet } from './check'
import { Card, cardWay, planRoom, Ports } from './card'
import { ChooseRig } from './choose'
import { Count } from './count'
import { OtherTests } from './crosscheck'
import { First } from './first'
import { Heads, NewHead, SameAs } from './heads'
import { History } from './history'
import { keys } from './kit'
import { Layout } from './layout'
import { Phone } from './phone'
import { PortSheet } from './port'
import { Readings } from './readings'
import { RigSheet, Rigs } from './rig'
import { Session } from './session'
import { Sizes } from './sizes'
import { Tray } from './tray'
import { Upload } from './upload'
import { Valves } from './valves'
import { WallCard } from './wallcard'
import { WorkSheet } from './work'

const place = signal(location.hash)
const trouble = signal<Wrong | null>(null)

addEventListener('hashchange', () => {
  place.value = location.hash
  scrollTo(0, 0)
  requestAnimationFrame(() => document.querySelector<HTMLElement>('h1')?.focus({ preventScroll: true }))
})

function App() {
  if (trouble.value) return <p class="alone"><b>{trouble.value.what}</b> {trouble.value.fix}</p>
  if (!words.value || !settings.value) return null
  const [path, query] = place.value.replace(/^#\/?/, '').split('?')
  const [what, id, sheet, port] = path.split('/').map(decodeURIComponent)
  const ask = new URLSearchParams(query)
  const key = path
  switch (what) {
    case 'new': return <NewHead />
    case 'tray': return <Tray />
    case 'bin': return <Bin />
    case 'first': return <First />
    case 'choose': return <ChooseRig />
    case 'phone': return <Phone key={query} to={ask.get('to') ?? ''} />
    case 'rigs': return sheet === 'card' ? <WallCard key={key} id={id} head={ask.get('head') ?? ''} /> : sheet === 'check' ? <CheckSheet key={key} id={id} /> : id ? <RigSheet key={key} id={id} back={ask.get('back') ?? ''} /> : <Rigs />
    case 'count': return <Count key={key} id="" port="" />
    case 'upload': return <Upload key={key} id="" port="" />
    case 'readings': return <Readings key={key + query} id="" port="" way={ask.get('way') ?? 'table'} />
    case 'heads':
      if (!id) break
      switch (sheet) {
        case 'ports': return port ? <PortSheet key={key} id={id} port={port} /> : <Ports key={key} id={id} />
        case 'count': return <Count key={key} id={id} port={port} mask={ask.get('mask') ?? ''} />
        case 'upload': return <Upload key={key} id={id} port={port} />
        case 'readings': return <Readings key={key + query} id={id} port={port} way={ask.get('way') ?? 'table'} />
        case 'work': return <WorkSheet key={key} id={id} port={port ?? ''} />
        case 'session': return <Session key={key} id={id} />
        case 'sizes': return <Sizes key={key} id={id} />
        case 'valves': return <Valves key={key} id={id} />
        case 'layout': return <Layout key={key} id={id} />
        case 'crosscheck': return <OtherTests key={key} id={id} port={port ?? ''} />
        case 'history': return <History key={key} id={id} />
        case 'same': return <SameAs key={key} id={id} />
        default: return <Card key={key} id={id} />
      }
  }
  return <Heads />
}

/** firstWay is what the sheet at a place will ask for first, as far as that is known without it. */
function firstWay(): string | null {
  const [what, id, sheet, port] = location.hash.replace(/^#\/?/, '').split('?')[0].split('/').map(decodeURIComponent)
  if (!what) return 'heads?find='
  if (what !== 'heads' || !id) return null
  if (!sheet) return cardWay(id, planRoom())
  return sheet === 'ports' ? `heads/${id}` + (port ? '/ports/' + port : '') : null
}

// The first sheet waits for what it shows, a little: drawn once it is there sooner.
const patience = 150 // ms
const way = firstWay()
const asked = way ? ahead(way) : Promise.resolve()
keys()
try {
  begin()
} catch (e) {
  trouble.value = e as Wrong
}
await Promise.race([asked, new Promise(go => setTimeout(go, patience))])
render(<App />, document.getElementById('app')!)
drawn()
setTimeout(listen) // after the first sheet is painted; it tells of all that changed since the shell was made
