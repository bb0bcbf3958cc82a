import { useSignal } from '@preact/signals'
import { call, settings, useGet, words, Wrong } from './api'
import { useHead } from './card'
import { Choice, Field, go, headNav, Sheet, Tick, Trouble, useDraft } from './kit'
import type { Work } from './types'

/** What was done to valves: it lapses their verdicts. */
export function WorkSheet({ id, port }: { id: string; port: string }) {
  const { data } = useHead(id)
  const log = useGet<{ work: Work[] }>(`heads/${id}/work`, c => c.kind === 'work' && c.job === id)
  const here = data?.head.ports.find(p => p.id === port)
  const [d, change, clear] = useDraft('work ' + id + port, { kind: 'lapped', note: '', valves: null as string[] | null })
  const wrong = useSignal<Wrong | null>(null)
  if (!data) return null
  const chosen = d.valves ?? here?.valves ?? []
  return (
    <Sheet number={data.head.number} title="log of work" line="log of work" nav={headNav(id, 'work')}>
      <div class="split">
        <form class="left" onSubmit={e => {
          e.preventDefault()
          call('POST', `heads/${id}/work`, { kind: d.kind, note: d.note, valves: chosen, by: settings.value!.initials }).then(() => (clear(), port ? go(`#/heads/${id}/ports/${port}`) : log.again()), e => (wrong.value = e))
        }}>
          <Choice label="What was done" words={words.value!.work} value={d.kind} onValue={kind => change({ kind })} />
          <fieldset class="choice"><legend>To which valves</legend><div class="ticks2">{[...data.head.valves].sort((a, b) => +!!here?.valves.includes(b.id) - +!!here?.valves.includes(a.id)).map(v => <Tick label={v.name} value={chosen.includes(v.id)} onValue={on => change({ valves: on ? [...chosen, v.id] : chosen.filter(x => x !== v.id) })} />)}</div></fieldset>
          <p class="cap below">{chosen.length ? 'The verdicts of their ports lapse; the old figures are kept.' : 'None chosen: the whole head. Every verdict lapses.'}</p>
          <Field label="Note" value={d.note} onValue={note => change({ note })} guess="skip" />
          <Trouble wrong={wrong.value} />
          <button class="button red" data-enter>Log it</button>
        </form>
        <div class="right"><h2>Done so far</h2><table class="log"><tbody>{log.data?.work.map(x => <tr><td class="nw">{x.when}</td><td>{x.word}{x.on.length ? ': ' + x.on.join('; ') : ', the whole head'}{x.note && <>. {x.note}</>}</td><td>{x.by}</td></tr>)}</tbody></table>{log.data && !log.data.work.length && <p class="cap">Nothing yet.</p>}</div>
      </div>
    </Sheet>
  )
}
