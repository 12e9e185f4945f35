export const createElement: any, render: any;
