declare const htm: any;
export default htm;
