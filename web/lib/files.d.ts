/// The address of a file that the bundle carries beside itself.
declare module '*.woff2' {
  const address: string;
  export default address;
}
