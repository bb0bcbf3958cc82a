// The wall card of a rig: its figures large, the page as it prints, and the PDF.
import { useSignal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import { useGet } from './api'
import { Choice, Field, home, Say, Sheet, Trouble, useDraft } from './kit'
import type { Wall } from './types'

export function WallCard({ id, head }: { id: string; head: string }) {
  const [d, change] = useDraft('wall ' + id, { head, valves: '', held: '' })
  const typed = useSignal(d.valves)
  useEffect(() => { // a size half typed is no size
    const t = setTimeout(() => (typed.value = d.valves), 600)
    return () => clearTimeout(t)
  }, [d.valves])
  const q = new URLSearchParams({ held: d.held })
  if (d.head !== 'none' && d.head) q.set('head', d.head)
  if (d.head === 'none') q.set('valves', typed.value)
  const way = `rigs/${id}/card?${q}`
  const { data, wrong } = useGet<{ card: Wall }>(way, c => c.kind === 'rig' || c.kind === 'check' || c.kind === 'job')
  const c = data?.card
  if (!c) {
    return (
      <Sheet number="Wall card" title="" nav={home('rigs')} act={<a class="act" href={'#/rigs/' + id}>The rig</a>}>
        <Trouble wrong={wrong} />
        {d.head === 'none' && <Field label="Valves of a port" field="valves" value={d.valves} onValue={valves => change({ valves })} wrong={wrong} hint="27, 27 mm, or by kinds: intake 27, 27 mm; exhaust 23, 23 mm" />}
        {wrong && <button type="button" class="button" onClick={() => change({ head: '', valves: '' })}>Start again</button>}
      </Sheet>
    )
  }
  const now = d.head || c.head || 'none'
  const fits = !wrong && (now === 'none' ? c.valves === typed.value : c.head === now) // else it is that of the last question
  return (
    <Sheet number={c.rig.name} title="wall card" line="wall card" nav={home('rigs')} act={<a class="act" href={'#/rigs/' + id}>The rig</a>}>
      <div class="split wallsheet">
        <div class="left">
          <p>A card for the wall by this rig: it judges a port with a gauge, a watch and no computer. Every figure is on the safe side of all that is not known.</p>
          <Trouble wrong={wrong} />
          <div class="field">
            <label for="wallhead">For</label>
            <select id="wallhead" value={now} onChange={e => change({ head: (e.target as HTMLSelectElement).value })}>
              {c.heads.map(h => <option value={h.id}>{h.name}</option>)}
              <option value="none">a port by its valves</option>
            </select>
          </div>
          {now === 'none' && <Field label="Valves of a port" field="valves" value={d.valves} onValue={valves => change({ valves })} wrong={wrong} hint="27, 27 mm, or by kinds: intake 27, 27 mm; exhaust 23, 23 mm" />}
          <Choice label="Valves held by" words={c.held} value={d.held} onValue={held => change({ held })} />
          {fits && c.blank && <p class="wallblank"><b>First:</b> <Say>{c.blank[0].toLowerCase() + c.blank.slice(1)}</Say></p>}
          {fits && c.ports.map(p => (
            <section class="wallport">
              <h2>{p.name} <span><Say>{p.valves}</Say></span></h2>
              <dl>{p.rows.map(r => <div class={r.large ? 'large' : ''}><dt>{r.name}</dt><dd>{r.value && <b>{r.value}</b>} <span><Say>{r.words}</Say></span></dd></div>)}</dl>
            </section>
          ))}
          {fits && c.says.map(s => <p class="note"><Say>{s}</Say></p>)}
          {fits && c.pdf && <p class="row"><a class="button red" href={'/api/' + c.pdf} data-enter download>Print it: one page, A5, PDF</a></p>}
          {fits && !c.pdf && <p class="cap">Name a head, or type the sizes of a port's valves.</p>}
        </div>
        <div class="right">{fits && c.svg && <div class="drawing" dangerouslySetInnerHTML={{ __html: c.svg }} />}</div>
      </div>
    </Sheet>
  )
}
