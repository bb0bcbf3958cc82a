// How a test is made, in sight: what holds the valves stands as four keys, the
// rest in a line that opens.
import { useSignal } from '@preact/signals'
import { words } from './api'
import { How } from './kit'
import type { Conditions, Word } from './types'

/** The rest of the conditions in words. */
function rest(c: Conditions): string {
  const w = words.value!
  const of = (l: Word[], code: string) => l.find(x => x.code === code)?.word ?? code
  const parts = ['seats ' + of(w.wet, c.wet_with), 'guides ' + of(w.guide, c.guide), c.state ? of(w.condition, c.state) : 'state not said']
  if (c.masked?.length) parts.push(c.masked.length + ' masked')
  if (c.turned) parts.push('valves turned and dropped')
  if (c.placed) parts.push('plate put down again')
  return parts.join(', ')
}

export function Held(p: { value: Conditions; onValue: (c: Conditions) => void; valves?: { id: string; name: string }[]; short?: boolean; again?: boolean }) {
  const more = useSignal(false)
  const c = p.value
  return (
    <div class="heldbox">
      <fieldset class="choice held">
        <legend>Valves held by{!c.held && ': not said'}</legend>
        <div>{words.value!.held.filter(w => w.code).map(w => (
          <label class={w.code === c.held ? 'on' : ''}>
            <input type="radio" name="held" checked={w.code === c.held} onChange={() => p.onValue({ ...c, held: w.code })} />
            <span><i>{w.short ?? w.word}</i></span>
          </label>
        ))}</div>
      </fieldset>
      {!p.short && <p class="rest"><span>{rest(c)}</span> <button type="button" class="quiet" aria-expanded={more.value} aria-label={more.value ? 'done with seats, guides and state' : 'change seats, guides and state'} onClick={() => (more.value = !more.value)}>{more.value ? 'done' : 'change'}</button></p>}
      {more.value && <How value={c} onValue={p.onValue} valves={p.valves} rest />}
    </div>
  )
}
