export const useEffect: any, useLayoutEffect: any, useMemo: any, useRef: any;
