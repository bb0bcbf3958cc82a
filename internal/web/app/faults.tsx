// What the day's traces say is wrong with a rig.
import { useGet } from './api'
import { Say } from './kit'
import type { RigFault } from './types'

/** What the day's traces say is wrong with a rig; nothing where they say nothing. */
export function RigFaults({ id }: { id: string }) {
  const { data } = useGet<{ faults: RigFault[] }>(id ? `rigs/${id}/faults` : null, c => c.kind === 'check' || c.kind === 'test')
  if (!data?.faults.length) return null
  return (
    <section class="block0 rigfaults">
      <h2>Likely wrong with the rig</h2>
      {data.faults.map(f => <div class="likely">
        <h3><Say>{f.name[0].toUpperCase() + f.name.slice(1)}</Say></h3>
        <p><Say>{f.seen}</Say></p>
        {f.evidence.map(e => <p class="cap2"><Say>{e}</Say></p>)}
        <p><b><Say>{f.do}</Say></b></p>
      </div>)}
    </section>
  )
}
