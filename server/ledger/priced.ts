/**
 * SQL: that something was paid for what came into a container, its own filling or what was poured into it. The book
 * writes 0 where nobody said a price, as for what stood there on the first day.
 *
 * @param container the column with the container's id
 */
export function isPriced(container: string): string {
  return `EXISTS (SELECT 1 FROM movement paid WHERE paid.container_id = ${container} AND paid.amount > 0 AND paid.cost_micro > 0)`
}
