// The room: tubes, keep-outs on their hinges, gaps with their numbers, corners to take hold of.
// Lengths in mm, z up. Tubes are drawn as the server worked them out: nothing is worked out here.
let THREE, OrbitControls;

// The page is to be seen before the drawing library has come: it is most of what a page loads.
const painted = () => new Promise((seen) => requestAnimationFrame(() => setTimeout(seen)));
const alike = (one, other) => JSON.stringify(one) === JSON.stringify(other);

const SIDES = 20;
const HELD = 1;  // the layer of what moves with a corner that is held
const colour = (name) => new THREE.Color(getComputedStyle(document.documentElement).getPropertyValue(name).trim());

// A round bar through points, its rings carried along without twist.
function bar(flat, radius) {
  const count = flat.length / 3;
  const at = Array.from({ length: count }, (_, i) => new THREE.Vector3(flat[3 * i], flat[3 * i + 1], flat[3 * i + 2]));
  const places = [], normals = [], faces = [];
  let across = null;
  for (let i = 0; i < count; i++) {
    const before = at[Math.max(i - 1, 0)], after = at[Math.min(i + 1, count - 1)];
    const along = after.clone().sub(before).normalize();
    if (!across) {
      across = new THREE.Vector3(Math.abs(along.x) < 0.9 ? 1 : 0, Math.abs(along.x) < 0.9 ? 0 : 1, 0);
    }
    across = across.clone().addScaledVector(along, -across.dot(along)).normalize();
    const other = along.clone().cross(across);
    for (let k = 0; k < SIDES; k++) {
      const turn = (2 * Math.PI * k) / SIDES;
      const out = across.clone().multiplyScalar(Math.cos(turn)).addScaledVector(other, Math.sin(turn));
      normals.push(out.x, out.y, out.z);
      places.push(at[i].x + radius * out.x, at[i].y + radius * out.y, at[i].z + radius * out.z);
      if (i + 1 < count) {
        const a = i * SIDES + k, b = i * SIDES + ((k + 1) % SIDES);
        faces.push(a, b, a + SIDES, b, b + SIDES, a + SIDES);
      }
    }
  }
  const made = new THREE.BufferGeometry();
  made.setAttribute("position", new THREE.Float32BufferAttribute(places, 3));
  made.setAttribute("normal", new THREE.Float32BufferAttribute(normals, 3));
  made.setIndex(faces);
  return made;
}

// What things are drawn with, made once for all of them: the machine would otherwise get its
// drawing program anew whenever the last thing that needs one is drawn anew itself.
function skinsNow() {
  const { MeshStandardMaterial: Skin, MeshBasicMaterial: Flat, LineBasicMaterial: Line } = THREE;
  const steel = colour("--steel"), ember = colour("--ember"), dust = colour("--dust"), chalk = colour("--chalk");
  const metal = { roughness: 0.55, metalness: 0.25, side: THREE.DoubleSide };  // one sees into an end
  const glass = { color: dust, transparent: true, roughness: 0.9, depthWrite: false, side: THREE.DoubleSide, forceSinglePass: true };
  return {
    straight: new Skin({ color: steel, ...metal }),
    bend: new Skin({ color: ember.clone().lerp(steel, 0.45), ...metal }),
    lit: new Skin({ color: ember, emissive: ember.clone().multiplyScalar(0.35), ...metal }),
    knob: new Flat({ color: chalk, depthTest: false, transparent: true, opacity: 0.9 }),
    solid: new Skin({ ...glass, opacity: 0.34 }),
    endless: new Skin({ ...glass, opacity: 0.14 }),
    edge: new Line({ color: dust }),
    gap: new Line({ color: ember, depthTest: false }),
  };
}

function hingeMatrix(hinge, degrees) {
  const axis = new THREE.Vector3(...hinge.along).normalize();
  const there = new THREE.Matrix4().makeTranslation(...hinge.through);
  const turned = new THREE.Matrix4().makeRotationAxis(axis, (degrees * Math.PI) / 180);
  const back = new THREE.Matrix4().makeTranslation(...hinge.through.map((x) => -x));
  return there.multiply(turned).multiply(back);
}

export default {
  template: `
    <div>
      <canvas class="under" ref="under" width="0" aria-hidden="true"></canvas>
      <canvas ref="view" tabindex="0" role="img" :aria-label="label" @keydown="onKey"></canvas>
      <svg class="axes" viewBox="-50 -50 100 100" aria-hidden="true">
        <g v-for="axis in axes" :key="axis.name">
          <line x1="0" y1="0" :x2="axis.x * 30" :y2="axis.y * 30"></line>
          <text :x="axis.x * 30 + axis.out[0]" :y="axis.y * 30 + axis.out[1]">{{ axis.name }}</text>
        </g>
      </svg>
      <div class="tag" v-for="tag in tags" :key="tag.key" :style="tag.style">{{ tag.label }}</div>
      <div class="hinges">
        <label v-for="one in swings" :key="one.key">{{ one.label }}
          <input type="range" :min="one.from" :max="one.to" step="1" v-model.number="one.at" @input="swing(one)">
          <span>{{ one.at }}°</span>
        </label>
      </div>
    </div>`,
  props: { scene: Object, meshPath: String, snap: Number, movable: Boolean },
  data: () => ({ tags: [], swings: [], axes: [] }),
  computed: {
    label() {
      const tubes = (this.scene?.tubes ?? []).map((one) => one.name).join(", ");
      return `The room with ${tubes || "no tube yet"}. Arrow keys turn the view, plus and minus come nearer and go back.`;
    },
  },
  created() {
    this.share = 1;
    this.lit = null;
    this.picked = null;
    this.gaps = [];
    this.tubes = new Map();
    this.keepouts = [];
  },
  async mounted() {
    await painted();
    ({ THREE, OrbitControls } = await import("nicegui-scene"));
    if (!this.$el.isConnected) return;
    const canvas = this.$refs.view;
    this.three = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(36, 1, 1, 1e6);
    this.camera.up.set(0, 0, 1);
    this.drawer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true });
    this.drawer.debug.checkShaderErrors = false;  // asking for them waits for the drawing machine
    this.drawer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.lamp = new THREE.DirectionalLight(0xffffff, 1.6);
    for (const light of [this.lamp, new THREE.HemisphereLight(0xffffff, 0x555555, 2.2)]) {
      light.layers.enable(HELD);
      this.three.add(light);
    }
    this.things = new THREE.Group();
    this.three.add(this.things);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.addEventListener("change", () => this.ask());
    this.rays = new THREE.Raycaster();
    this.scans = new Map();
    this.watcher = new ResizeObserver(() => this.fitCanvas());
    this.watcher.observe(this.$el);
    this.skins = skinsNow();
    this.onLight = () => { this.dropSkins(); this.skins = skinsNow(); this.build(); };
    this.onBend = (event) => this.light(event.detail);
    addEventListener("soapstone-light", this.onLight);
    addEventListener("soapstone-bend", this.onBend);
    canvas.addEventListener("pointerdown", (event) => this.take(event), { capture: true });
    canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (event) => this.letGo(event));
    this.build();
    await this.$nextTick();  // the sliders of the hinges are there then, and take their room
    this.fitCanvas();
    this.look();
  },
  unmounted() {
    if (!this.three) return;
    removeEventListener("soapstone-light", this.onLight);
    removeEventListener("soapstone-bend", this.onBend);
    this.watcher.disconnect();
    this.clear();
    this.dropSkins();
    for (const scan of this.scans.values()) scan.dispose();
    this.controls.dispose();
    this.drawer.dispose();
    this.drawer.forceContextLoss();
  },
  watch: {
    scene(now, before) { if (this.three) this.renew(now, before); },
  },
  methods: {
    takeOut(group) {
      group.traverse((one) => { if (!one.userData.scan) one.geometry?.dispose(); });
      this.things.remove(group);
    },
    dropSkins() { for (const skin of Object.values(this.skins)) skin.dispose(); },
    clear() {
      for (const group of [...this.things.children]) this.takeOut(group);
      this.tubes = new Map();
      this.keepouts = [];
    },
    build() {
      this.clear();
      for (const tube of this.scene?.tubes ?? []) this.addTube(tube);
      this.addKeepouts();
      this.putGaps(this.gaps);
      this.ask();
    },
    // What has not changed stays as it is: a scan of many triangles above all.
    renew(now, before) {
      const tubes = new Map((now?.tubes ?? []).map((tube) => [tube.name, tube]));
      for (const [name, group] of [...this.tubes]) {
        if (!tubes.has(name)) { this.takeOut(group); this.tubes.delete(name); }
      }
      for (const [name, tube] of tubes) {
        if (!alike(this.tubes.get(name)?.userData, tube)) this.putTube(tube);
      }
      if (!alike(now?.keepouts, before?.keepouts)) this.addKeepouts();
      this.ask();
    },
    // --- tubes ---------------------------------------------------------------------------------
    addTube(tube) {
      const group = new THREE.Group();
      for (const piece of tube.pieces) {
        const mesh = new THREE.Mesh(bar(piece.points, tube.od / 2), piece.bend ? this.skins.bend : this.skins.straight);
        mesh.userData = { tube: tube.name, bend: piece.bend };
        group.add(mesh);
      }
      if (this.movable && this.picked === tube.name) {
        tube.corners.forEach((at, corner) => {
          const knob = new THREE.Mesh(new THREE.SphereGeometry(tube.od * 0.42, 20, 14), this.skins.knob);
          knob.position.set(...at);
          knob.renderOrder = 5;
          knob.userData = { tube: tube.name, corner };
          group.add(knob);
        });
      }
      group.userData = tube;
      if (this.held) this.holdOn(group);
      this.tubes.set(tube.name, group);
      this.things.add(group);
      this.relight();
    },
    putTube(tube) {
      if (!this.three) return;
      if (this.held) this.held.answered = true;
      const old = this.tubes.get(tube.name);
      if (old) this.takeOut(old);
      this.addTube(tube);
      this.ask();
    },
    pick(name) {
      this.picked = name;
      for (const group of [...this.tubes.values()]) this.putTube(group.userData);
    },
    light({ tube, bend }) {
      this.lit = { tube, bend };
      this.relight();
      if (this.three) this.ask();
    },
    relight() {
      for (const group of this.tubes.values()) {
        for (const mesh of group.children) {
          const mine = mesh.userData;
          if (!mine.bend) continue;
          const lit = this.lit && mine.tube === this.lit.tube && mine.bend === this.lit.bend;
          mesh.material = lit ? this.skins.lit : this.skins.bend;
        }
      }
    },
    // --- what stands and swings ----------------------------------------------------------------
    addKeepouts() {
      for (const group of this.keepouts) this.takeOut(group);
      this.keepouts = [];
      for (const keepout of this.scene?.keepouts ?? []) this.addKeepout(keepout);
      this.listSwings();
    },
    addKeepout(keepout) {
      const form = keepout.form;
      const skin = form.kind === "halfspace" ? this.skins.endless : this.skins.solid;
      const group = new THREE.Group();
      group.matrixAutoUpdate = false;
      const add = (geometry) => {
        const mesh = new THREE.Mesh(geometry, skin);
        group.add(mesh);
        return mesh;
      };
      if (form.kind === "box") {
        const mesh = add(new THREE.BoxGeometry(...form.size));
        const t = form.turn;
        mesh.matrixAutoUpdate = false;
        mesh.matrix.set(t[0], t[1], t[2], form.at[0], t[3], t[4], t[5], form.at[1], t[6], t[7], t[8], form.at[2], 0, 0, 0, 1);
        const edges = new THREE.LineSegments(new THREE.EdgesGeometry(mesh.geometry), this.skins.edge);
        edges.matrixAutoUpdate = false;
        edges.matrix.copy(mesh.matrix);
        group.add(edges);
      } else if (form.kind === "cylinder") {
        const from = new THREE.Vector3(...form.from), to = new THREE.Vector3(...form.to);
        const along = to.clone().sub(from);
        const mesh = add(new THREE.CylinderGeometry(form.diameter / 2, form.diameter / 2, along.length(), 32));
        mesh.position.copy(from).addScaledVector(along, 0.5);
        mesh.quaternion.setFromUnitVectors(new THREE.Vector3(0, 1, 0), along.normalize());
      } else if (form.kind === "ball") {
        add(new THREE.SphereGeometry(form.diameter / 2, 32, 20)).position.set(...form.at);
      } else if (form.kind === "halfspace") {
        const size = this.reach() * 2.4;
        const mesh = add(new THREE.PlaneGeometry(size, size));
        mesh.position.set(...form.at);
        mesh.quaternion.setFromUnitVectors(new THREE.Vector3(0, 0, 1), new THREE.Vector3(...form.normal).normalize());
        mesh.userData.endless = true;
      } else if (form.kind === "mesh") {
        this.fetchMesh(keepout, add);
      }
      group.userData = keepout;
      this.keepouts.push(group);
      this.things.add(group);
    },
    async fetchMesh(keepout, add) {
      const address = `${this.meshPath}${keepout.number}?${keepout.form.mark}`;
      let geometry = this.scans.get(address);
      if (!geometry) {
        const answer = await fetch(address);
        if (!answer.ok) return;
        geometry = new THREE.BufferGeometry();
        geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(await answer.arrayBuffer()), 3));
        geometry.computeVertexNormals();
        this.scans.set(address, geometry);
      }
      add(geometry).userData.scan = true;
      this.ask();
    },
    listSwings() {
      const before = new Map(this.swings.map((one) => [one.key, one.at]));
      this.swings = [];
      this.keepouts.forEach((group, k) => group.userData.hinges.forEach((hinge, h) => {
        const key = `${group.userData.name}/${h}`;
        const many = group.userData.hinges.length > 1;
        const kept = before.get(key);
        const at = kept !== undefined ? kept : Math.min(Math.max(0, hinge.from), hinge.to);
        this.swings.push({ key, k, h, from: hinge.from, to: hinge.to, at, label: group.userData.name + (many ? `, hinge ${h + 1}` : "") });
      }));
      for (const one of this.swings) this.swing(one);
    },
    swing(one) {
      const group = this.keepouts[one.k];
      const mine = this.swings.filter((other) => other.k === one.k).sort((a, b) => a.h - b.h);
      const all = new THREE.Matrix4();
      for (const other of mine) all.premultiply(hingeMatrix(group.userData.hinges[other.h], other.at));
      group.matrix.copy(all);
      group.matrixWorldNeedsUpdate = true;
      this.ask();
    },
    putGaps(gaps) {
      this.gaps = gaps;
      if (!this.three) return;
      if (this.gapLines) this.takeOut(this.gapLines);
      this.gapLines = new THREE.Group();
      for (const gap of gaps) {
        const line = new THREE.BufferGeometry().setFromPoints([new THREE.Vector3(...gap.from), new THREE.Vector3(...gap.to)]);
        const drawn = new THREE.Line(line, this.skins.gap);
        drawn.renderOrder = 4;
        this.gapLines.add(drawn);
      }
      this.things.add(this.gapLines);
      this.ask();
    },
    // --- looking -------------------------------------------------------------------------------
    box() {
      const box = new THREE.Box3();
      for (const group of this.tubes.values()) box.expandByObject(group);
      if (box.isEmpty()) for (const group of this.keepouts) if (group.userData.form.kind !== "halfspace") box.expandByObject(group);
      if (box.isEmpty()) box.set(new THREE.Vector3(-500, -500, -500), new THREE.Vector3(500, 500, 500));
      return box;
    },
    places(box) {
      const flat = [...this.tubes.values()].flatMap((group) => group.userData.pieces).flatMap((piece) => piece.points);
      if (!flat.length) for (let k = 0; k < 8; k++) flat.push(...["x", "y", "z"].map((axis, i) => box[(k >> i) & 1 ? "max" : "min"][axis]));
      return Array.from({ length: flat.length / 3 }, (_, i) => new THREE.Vector3().fromArray(flat, 3 * i));
    },
    reach() { return this.box().getSize(new THREE.Vector3()).length() || 1000; },
    look() {
      const box = this.box(), middle = box.getCenter(new THREE.Vector3());
      this.camera.position.set(-0.62, -0.66, 0.42);
      this.camera.lookAt(0, 0, 0);
      this.camera.updateMatrix();
      const [across, up, back] = [0, 1, 2].map((k) => new THREE.Vector3().setFromMatrixColumn(this.camera.matrix, k));
      // as near as the tubes are wholly in sight, in the middle, or all there is where there is no tube
      const high = Math.tan((this.camera.fov / 2) * (Math.PI / 180)) * 0.9, wide = high * this.camera.aspect;
      const places = this.places(box), from = (at, axis) => at.dot(axis) - middle.dot(axis);
      const least = this.reach() * 1.15;  // nearer, what is near looks too large
      let far = least;
      for (let pass = 0; pass < 4; pass++) {
        for (const axis of pass ? [across, up] : []) {
          const seen = places.map((at) => from(at, axis) / (far - from(at, back)));
          middle.addScaledVector(axis, (far * (Math.max(...seen) + Math.min(...seen))) / 2);
        }
        far = Math.max(least, ...places.map((at) => from(at, back) + Math.max(
          Math.abs(from(at, across)) / wide, Math.abs(from(at, up)) / (high * this.share))));
      }
      this.camera.position.copy(middle).addScaledVector(back, far);
      this.camera.near = far / 200;
      this.camera.far = far * 20;
      this.camera.updateProjectionMatrix();
      this.controls.target.copy(middle);
      this.controls.update();
      this.ask();
    },
    standBack() { this.$nextTick(() => this.three && this.look()); },
    onKey(event) {
      if (!this.three) return;
      const turns = { ArrowLeft: [0.12, 0], ArrowRight: [-0.12, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] };
      const from = this.camera.position.clone().sub(this.controls.target);
      if (turns[event.key]) {
        const [round, up] = turns[event.key];
        from.applyAxisAngle(new THREE.Vector3(0, 0, 1), round);
        const side = from.clone().cross(new THREE.Vector3(0, 0, 1)).normalize();
        const tipped = from.clone().applyAxisAngle(side, up);
        if (Math.abs(tipped.clone().normalize().z) < 0.98) from.copy(tipped);
      } else if (event.key === "+" || event.key === "=") from.multiplyScalar(0.88);
      else if (event.key === "-") from.multiplyScalar(1.14);
      else return;
      event.preventDefault();
      this.camera.position.copy(this.controls.target).add(from);
      this.controls.update();
      this.ask();
    },
    fitCanvas() {
      const { clientWidth: width, clientHeight: height } = this.$refs.view;
      if (!width || !height) return;
      this.drawer.setSize(width, height, false);
      // what the sliders cover is left free
      const sliders = this.$el.querySelector(".hinges"), over = getComputedStyle(sliders).position === "absolute";
      this.share = over ? Math.max(1 - sliders.offsetHeight / height, 0.5) : 1;
      this.camera.aspect = width / height;
      this.camera.setViewOffset(width, height, 0, ((1 - this.share) * height) / 2, width, height);
      this.camera.updateProjectionMatrix();
      this.ask();
    },
    ask() {
      if (this.asked) return;
      this.asked = requestAnimationFrame(() => { this.asked = 0; this.draw(); });
    },
    draw() {
      this.lamp.position.copy(this.camera.position);
      this.camera.layers.set(this.held ? HELD : 0);
      this.drawer.render(this.three, this.camera);
      if (this.held) return;  // the numbers of the gaps stay where they are
      this.axes = this.waysOfAxes();
      const { clientWidth: width, clientHeight: height } = this.$refs.view;
      this.tags = this.gaps.map((gap, key) => {
        const at = new THREE.Vector3(...gap.from).add(new THREE.Vector3(...gap.to)).multiplyScalar(0.5).project(this.camera);
        return { key, label: gap.label, style: { left: `${((at.x + 1) / 2) * width}px`, top: `${((1 - at.y) / 2) * height}px` } };
      });
    },
    // Where x, y and z point on the screen; a letter stands clear of the middle however short its line is.
    waysOfAxes() {
      const back = this.camera.quaternion.clone().invert();
      return ["x", "y", "z"].map((name, k) => {
        const way = new THREE.Vector3().setComponent(k, 1).applyQuaternion(back);
        const long = Math.hypot(way.x, way.y) || 1, out = Math.max(10, 18 - 30 * long);
        return { name, x: way.x, y: -way.y, out: [(way.x / long) * out, (-way.y / long) * out] };
      });
    },
    // --- taking hold ---------------------------------------------------------------------------
    aim(event) {
      const frame = this.$refs.view.getBoundingClientRect();
      const at = new THREE.Vector2(((event.clientX - frame.left) / frame.width) * 2 - 1, 1 - ((event.clientY - frame.top) / frame.height) * 2);
      this.rays.setFromCamera(at, this.camera);
      return this.rays;
    },
    take(event) {
      const rays = this.aim(event);
      const knobs = [];
      for (const group of this.tubes.values()) for (const one of group.children) if (one.userData.corner !== undefined) knobs.push(one);
      const knob = rays.intersectObjects(knobs, false)[0]?.object;
      if (!knob) {
        const hit = rays.intersectObjects([...this.tubes.values()], true)[0]?.object;
        if (hit?.userData.bend) soapstone.light(hit.userData.tube, hit.userData.bend);
        return;
      }
      event.stopImmediatePropagation();
      event.target.setPointerCapture(event.pointerId);
      const facing = this.camera.getWorldDirection(new THREE.Vector3());
      this.held = { knob, plane: new THREE.Plane().setFromNormalAndCoplanarPoint(facing, knob.position), last: 0, answered: true, moving: new Set() };
      this.controls.enabled = false;
      this.holdOn(this.tubes.get(knob.userData.tube));
    },
    // While a corner is held, what does not move with it is drawn once, and laid under the rest: a
    // scan of many triangles costs nothing in each picture then.
    holdOn(group) {
      group.traverse((one) => one.layers.set(HELD));
      const name = group.userData.name;
      if (this.held.moving.has(name)) return;
      this.held.moving.add(name);
      this.camera.layers.set(0);
      this.drawer.render(this.three, this.camera);
      const { under } = this.$refs, drawn = this.drawer.domElement;
      under.width = drawn.width;
      under.height = drawn.height;
      under.getContext("2d").drawImage(drawn, 0, 0);
      this.ask();
    },
    holdOff() {
      this.$refs.under.width = 0;
      for (const group of this.tubes.values()) group.traverse((one) => one.layers.set(0));
    },
    move(event) {
      if (!this.held) return;
      const at = this.aim(event).ray.intersectPlane(this.held.plane, new THREE.Vector3());
      if (!at) return;
      const snap = this.snap || 0;
      const kept = at.toArray().map((x) => (snap ? Math.round(x / snap) * snap : x));
      this.held.at = kept;
      this.held.knob.position.set(...kept);
      this.ask();
      const now = performance.now();
      if (now - this.held.last > (this.held.answered ? 30 : 400)) {
        this.held.last = now;
        this.held.answered = false;
        this.$emit("drag", { ...this.held.knob.userData, at: kept });
      }
    },
    letGo(event) {
      if (!this.held) return;
      const { knob, at } = this.held;
      this.holdOff();
      this.held = null;
      this.controls.enabled = true;
      if (at && event.type === "pointerup") this.$emit("drop", { ...knob.userData, at });
      else this.build();
    },
  },
};
