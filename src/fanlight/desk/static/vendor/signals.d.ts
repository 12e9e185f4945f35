export const signal: any, useSignal: any, computed: any, effect: any, batch: any, untracked: any;
