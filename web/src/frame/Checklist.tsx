/** Points that a person ticks one by one: none of them stands for another. */
export function Checklist({
  title,
  points,
  ticked,
  onTicked,
}: {
  title: string;
  points: readonly { id: string; text: string }[];
  ticked: ReadonlySet<string>;
  onTicked: (next: ReadonlySet<string>) => void;
}) {
  function tick(id: string, on: boolean) {
    const next = new Set(ticked);
    if (on) next.add(id);
    else next.delete(id);
    onTicked(next);
  }

  return (
    <fieldset class="questions">
      <legend>{title}</legend>
      {points.map(({ id, text }) => (
        <label key={id}>
          <input
            type="checkbox"
            checked={ticked.has(id)}
            onChange={(event) => tick(id, event.currentTarget.checked)}
          />
          <span>{text}</span>
        </label>
      ))}
    </fieldset>
  );
}
