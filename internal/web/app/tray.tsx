import { useSignal } from '@preact/signals'
import { useGet } from './api'
import { Move, Undo } from './move'
import { home, Say, Sheet, Swatch, Trouble } from './kit'
import type { Test } from './types'

/** Tests that belong to no head yet. */
export function Tray() {
  const { data, wrong, again } = useGet<{ tests: Test[] }>('tests?tray=1', c => c.kind === 'test')
  const moving = useSignal('')
  const tests = data?.tests
  return (
    <Sheet number="Tray" title="tests of no head yet" line="tests of no head yet" nav={home('tray')} act={<a class="act" href="#/count" data-key="s">Quick test <kbd>S</kbd></a>}>
      <Trouble wrong={wrong} />
      <Undo job="" port="" />
      {tests && !tests.length && <section class="empty"><h2>The tray is empty.</h2><p>A quick test needs no head. File it later.</p><div class="row"><a class="button red" href="#/count" data-enter>Quick test</a><a class="button" href="#/upload">Send a recording</a></div></section>}
      <ul class="tray">{tests?.map((t, i) => (
        <li>
          <div class="row"><Swatch state={t.reading.state} size={34} /><div class="grow"><b>{t.when}</b> {t.source_word}, {t.how}<br /><Say>{t.reading.line}</Say></div>
            <button type="button" class="button" data-key={i === 0 ? 'm' : undefined} aria-expanded={moving.value === t.id} onClick={() => (moving.value = moving.value === t.id ? '' : t.id)}>File it{i === 0 && <> <kbd>M</kbd></>}</button></div>
          {moving.value === t.id && <Move test={t} done={to => ((moving.value = ''), (location.hash = to), again())} />}
        </li>
      ))}</ul>
    </Sheet>
  )
}
