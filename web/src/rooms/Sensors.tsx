import { number, withUnit } from "../format";
import { named, qualityWords } from "../names";
import { usePage } from "../page";

/** Every sensor: what is shown beside what comes over the wire, and what it is worth. */
export function Sensors() {
  const { view, units } = usePage();
  const readings = Object.entries(view.plant?.readings ?? {});
  if (readings.length === 0) return <p class="nothing">Nothing is heard from the sensors.</p>;
  return (
    <div class="wide-table">
      <table class={view.past ? "past" : ""}>
        <caption class="hidden">Sensors, shown and raw</caption>
        <thead>
          <tr>
            <th scope="col">Sensor</th>
            <th scope="col">Shown</th>
            <th scope="col">Raw</th>
            <th scope="col">Is</th>
          </tr>
        </thead>
        <tbody>
          {readings.map(([channel, reading]) => (
            <tr key={channel}>
              <th scope="row">{named(channel).label}</th>
              <td>{withUnit(reading.value, named(channel).quantity, units)}</td>
              <td>
                {reading.raw === null
                  ? "–"
                  : `${number(reading.raw, 3)} ${named(channel).quantity === "flow" ? "Hz" : "V"}`}
              </td>
              <td>{qualityWords(reading.quality) ?? "good"}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
