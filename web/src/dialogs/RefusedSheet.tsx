import { Sheet } from "./Sheet";

/** Every reason at once, each with its remedy: nobody should have to find them one after the other. */
export function RefusedSheet({
  title,
  reasons,
  onClose,
}: {
  title: string;
  reasons: string[];
  onClose: () => void;
}) {
  return (
    <Sheet title={title} onClose={onClose}>
      <p>{reasons.length === 1 ? "Reason:" : `${reasons.length} reasons:`}</p>
      <ol class="reasons">
        {reasons.map((reason) => (
          <li key={reason}>{reason}</li>
        ))}
      </ol>
    </Sheet>
  );
}
