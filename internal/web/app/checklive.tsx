// A check of a rig while it goes on: the step, what to put on, the vacuum large,
// and beside it what came of each step so far.
import { choose, settings, words } from './api'
import { CheckWord } from './check'
import { Say, Sheet, Trouble } from './kit'
import { canFill, fill, whole } from './lit'
import { now, press, silent, trouble } from './live'
import { big, EndIt, Figure, last, leakWords, letters, off, stepOf, tapping, useBench } from './session'
import { Ruler, Strip } from './strip'
import { sound, still } from './tone'
import type { Gauge, LiveStep, RigCheck, Run } from './types'
import { wake } from './voice'

type Foot = '' | 'go-to' | 'end'

export function CheckLive({ run: r, check: c }: { run: Run; check?: RigCheck }) {
  const v = r.view
  const g: Gauge | undefined = v.gauges.find(x => x.judged) ?? v.gauges[0]
  const { foot, tone, mute, draw, figure } = useBench<Foot>()
  const steps = v.steps ?? []
  const here = steps.find(s => s.here)
  const phase = stepOf(r, g)
  const t = v.test
  const held = t?.held ? t.held_s : -1
  const says = silent.value ? 'Nothing comes from the program.' : g?.says || r.trouble || ''
  const rows: [string, string, string][] = [
    ['vented', 'Vented', v.facts?.vented || (here?.on === 'open' ? 'pump off, left alone' : 'plate on, pump off')],
    ...(here?.on === 'open' ? [] : [['pull', 'Pull', v.facts?.pull || 'pump on, until steady'] as [string, string, string]]),
    ...(here?.on === 'open' || !here?.hold ? [] : [['hold', 'Hold', 'hands off'] as [string, string, string]]),
    ...(here?.on === 'open' ? [] : [['vent', 'Vent', 'open the valve'] as [string, string, string]]),
  ]
  const at = rows.some(x => x[0] === phase) ? phase : t ? 'vent' : 'vented'
  const sub = [r.head, 'rig check', g?.name].filter(Boolean).join(', ')
  const loud = !mute.value && settings.value!.sound !== 'none' && !!settings.value!.sound
  return (
    <Sheet live number="Rig check" title={sub} line={r.head} nav={[]}>
      <ol class="stepsrow" aria-label="Step">{rows.map(([code, word, fact]) => <li aria-current={code === at ? 'step' : undefined}><b>{word}</b> <span><Say>{fact}</Say></span></li>)}</ol>
      <section class="at" aria-label="Under the plate">
        <div class="title1"><h2>{big(v.target_name)}</h2>{here && here.wanted > 1 && <p>{Math.min(here.made + 1, here.wanted)} of {here.wanted}</p>}</div>
        <div class="vacuum">
          <Figure unit={r.unit} tell={f => (figure.current = f)} gone={silent.value || !!g?.error} />
          <div class="lostbox" aria-live="off">
            {held >= 0 && t && here?.hold ? <><p>lost</p><p class="b">{t.lost || '–'}</p><p>in {held} s of {t.of_s} s</p></>
              : here?.on === 'open' ? <p class="hint1">{here.made ? 'That is enough.' : `Leave it open, ${Math.max(0, Math.round((here.hold || 10) - (here.stands ?? 0)))} s.`}</p>
              : <p class="hint1"><Say>{phase === 'pull' ? (t?.steady ? (here?.hold ? 'Steady. Shut the valve.' : 'Steady. Open the valve.') : 'Until it stands still.') : here?.put_on}</Say></p>}
          </div>
        </div>
        {held >= 0 && t && !!here?.hold && <Ruler t={Math.min(held, t.of_s)} of={t.of_s} />}
        {says ? <p class="says1" role="alert"><b><Say>{says}</Say></b></p> : <p class="said" role="status">{last.value && <Say>{big(last.value.words)}</Say>}</p>}
      </section>
      <section class="beside checksteps" aria-label="The steps" tabIndex={0}>
        <ol class="filedlast">{steps.map(s => <li aria-current={s.here ? 'step' : undefined}><span class="grow">{big(s.name)}</span><Came step={s} check={c} /></li>)}</ol>
        {c && c.readings.of.length > 0 && <table class="shrinks"><thead><tr><th>cm<sup>3</sup>/min</th><th class="r">before</th><th class="r">now</th></tr></thead>
          <tbody>{c.readings.of.slice(0, 4).map(x => <tr><th scope="row">{big(x.name)}</th><td class="r">{x.before}</td><td class="r"><b>{x.now}</b></td></tr>)}</tbody></table>}
      </section>
      <section class="stripbox" aria-label="Strip"><Strip hear={f => (draw.current = f)} /></section>
      <Trouble wrong={trouble.value} />
      <Keys run={r} here={here} foot={foot.value} set={f => (foot.value = f)} shut={!!t && !t.held && phase === 'pull' && !!here?.hold} />
      <div class="tools">
        <button type="button" class="quiet" data-key="v" aria-pressed={loud} onClick={() => {
          wake()
          if (!settings.value!.sound || settings.value!.sound === 'none') choose({ sound: 'voice' })
          else mute.value = !mute.value
          sessionStorage.setItem('mute', mute.value ? '1' : '0')
        }}>Voice {loud ? 'on' : 'off'} <kbd>V</kbd></button>
        <button type="button" class="quiet" data-key="t" aria-pressed={tone.value} onClick={() => ((tone.value = !tone.value) ? sound() : still())}>Tone {tone.value ? 'on' : 'off'} <kbd>T</kbd></button>
        <button type="button" class="quiet" data-key="g" onClick={() => (foot.value = foot.value === 'go-to' ? '' : 'go-to')}>Other step <kbd>G</kbd></button>
        {canFill() && <button type="button" class="quiet wide1" data-key="w" aria-pressed={whole.value} onClick={fill}>Whole screen <kbd>W</kbd></button>}
        <button type="button" class="quiet end1" onClick={() => (foot.value = foot.value === 'end' ? '' : 'end')}>End check <kbd>Esc</kbd></button>
      </div>
    </Sheet>
  )
}

/** What came of a step so far. */
function Came({ step: s, check: c }: { step: LiveStep; check?: RigCheck }) {
  const k = c?.kinds.find(k => k.way === s.id && k.steps.some(x => x.code === s.id))
  if (s.skipped) return <span class="leak1">skipped</span>
  if (k && s.made && k.word === 'no result yet') return <span class="leak1">waits for another check</span>
  if (k && s.made) return <><span class="leak1"><Say>{leakWords(k.value)}</Say></span><CheckWord kind={k} /></>
  return <span class="leak1">{s.made ? `${s.made} of ${s.wanted}` : s.here ? 'now' : s.wanted > 1 ? `${s.wanted} to do` : 'to do'}</span>
}

function Keys({ run: r, here, foot, set, shut }: { run: Run; here?: LiveStep; foot: Foot; set: (f: Foot) => void; shut: boolean }) {
  const v = r.view
  const tap = tapping(set)
  if (foot === 'end') return <EndIt what="check" kept="What was found so far stays." tap={tap} set={set} />
  if (foot) return (
    <div class="bar1 ports1" role="group" aria-label="Go to">
      <p><b>Go to</b></p>
      <div class="grid">{(v.steps ?? []).map((s, i) => <button type="button" class="button" disabled={s.here} data-key={letters[i]} onClick={tap('go-to', { port: s.id })}>{big(s.name)}<kbd>{letters[i].toUpperCase()}</kbd></button>)}</div>
      <div class="row"><button type="button" class="button" onClick={() => set('')}>Leave it <kbd>Esc</kbd></button></div>
    </div>
  )
  return (
    <div class={'bar1' + (shut ? ' four' : '')}>
      {v.next ? <button type="button" class="button ink next1" data-enter onClick={tap('next')}><span>Next<i>: </i><span>{v.next_name}</span></span> <kbd>Enter or pedal</kbd></button>
        : <button type="button" class="button ink next1" data-enter onClick={here?.made ? tap('next') : e => (off(e), set('end'))}><span>Last step<i>: </i><span>end the check</span></span> <kbd>Enter or pedal</kbd></button>}
      <button type="button" class="button" data-key="a" onClick={tap('again')}>Again <kbd>A</kbd></button>
      <button type="button" class="button" data-key="k" onClick={tap('skip')}>Skip <kbd>K</kbd></button>
      {shut && <button type="button" class="button" data-key="s" onClick={tap('shut-off')}>Shut now <kbd>S</kbd></button>}
    </div>
  )
}
