import { home, Say, Sheet } from './kit'
import { words } from './api'

/** Pictures for the first time: which side, what a blank is. */
export function First() {
  return (
    <Sheet number="First port" title="which way round?" line="which way round?" nav={home('first')} act={<a class="act" href="#/new" data-enter>Book in a head <kbd>Enter</kbd></a>}>
      <div class="firsts">
        <figure>
          <svg class="d show-how" viewBox="0 0 340 226" role="img" aria-label="Right: the plate closes the port’s mouth, and the vacuum pulls the valve onto its seat">
            <Head />
            <rect class="plate" x="212" y="62" width="15" height="66" />
            <path class="fit" d="M228 95H282" /><path class="arrowhead" d="M280 88l16 7-16 7z" />
            <path class="fit" d="M113 196V172" /><path class="arrowhead" d="M106 174l7-16 7 16z" />
            <text class="b acc" x="220" y="54">plate</text><text x="236" y="120">to the pump</text><text class="cap" x="126" y="190">pulled shut</text>
          </svg>
          <figcaption><h2>Right: on the port’s mouth</h2><p>The pump empties the port. The room’s air presses the valve onto its seat, so what leaks is the seat, the guide or the plate.</p></figcaption>
        </figure>
        <figure>
          <svg class="d show-how" viewBox="0 0 340 226" role="img" aria-label="Wrong: the plate on the chamber pulls the valve off its seat">
            <Head open />
            <rect class="plate" x="54" y="180" width="118" height="14" />
            <path class="fit" d="M113 194V222" />
            <text class="b acc" x="182" y="192">plate</text><text class="cap" x="182" y="174">pulled off its seat</text>
            <path class="wrong" d="M226 60L326 140M326 60L226 140" />
          </svg>
          <figcaption><h2>Wrong: on the chamber</h2><p>There the vacuum pulls the valve off its seat, and every good seat looks like a leak.</p></figcaption>
        </figure>
        <figure>
          <svg class="d show-how" viewBox="0 0 340 226" role="img" aria-label="A blank: a smooth flat piece that closes the plate’s pad">
            <rect class="plate" x="60" y="92" width="150" height="16" /><rect class="padrect" x="72" y="108" width="126" height="12" /><rect class="blank" x="50" y="122" width="170" height="26" />
            <path class="fit" d="M135 92V40H260" /><path class="arrowhead" d="M258 33l16 7-16 7z" />
            <text class="b acc" x="222" y="104">plate</text><text x="226" y="124">pad</text><path class="lead" d="M222 119L200 114" /><text class="b" x="58" y="140">blank: glass, flat metal</text><text x="204" y="30">to the pump</text>
          </svg>
          <figcaption><h2>First of all: the blank</h2><p>A blank is anything smooth, flat and tight. Pull on it, shut, wait: it must hold. If it does not, the rig leaks, and no valve is to blame yet. Then try a known leak: a jet or a needle must be called leaking.</p></figcaption>
        </figure>
      </div>
      <section class="narrow wide2">
        <h2>Before you work on it</h2>
        {words.value!.cautions.map(c => <p class="caution"><Say>{c}</Say></p>)}
        <div class="row"><a class="button red" href="#/new">Book in a head</a><a class="button" href="#/rigs/new">Describe the rig</a></div>
      </section>
    </Sheet>
  )
}

/** A head cut through a port. */
function Head({ open }: { open?: boolean }) {
  const y = open ? 14 : 0
  return (
    <>
      <path class="metalcut" d="M30 20H212V62H168C128 62 92 78 92 118V140L82 156H30Z" />
      <path class="metalcut" d="M212 128H172C150 128 134 130 134 142L144 156H212Z" />
      <path class="fit" d="M212 62V20H30V156H82M144 156H212V128" />
      <path class="passageline" d="M212 62H168C128 62 92 78 92 118V140L82 156M212 128H172C150 128 134 130 134 142L144 156" />
      <path class="valvecut" d={`M110 ${8 + y}H116V${128 + y}C116 ${142 + y} 132 ${146 + y} 142 ${154 + y}H84C94 ${146 + y} 110 ${142 + y} 110 ${128 + y}Z`} />
    </>
  )
}
