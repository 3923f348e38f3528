/** Who a client is while the deployment asks nobody: named so in every record. */
export const OPEN_ACCESS = 'open-access';
