//! Gas exchange: manifolds, turbocharger and the coupled cylinders through one firing interval.
//!
//! Heun's method: a first stage looks at the beginning of a step, a second at where the first would lead, and the step takes
//! the mean of both. What the second stage finds stands for the first of the next step, except for its small correction.

use crate::cycle::machine::{MOST_CYLINDERS, Machine, Node};
use crate::cycle::means::{Means, Strokes};
use crate::cycle::state::{Cylinder, GasExchange, Volume, WholeEngine};
use crate::cycle::trace::Recorder;
use crate::gas::flow::{self, Upstream};
use crate::gas::{Amount, Content};
use crate::math;
use crate::parts::combustion::HeatRelease;
use crate::parts::compressor::SpeedLine;
use crate::parts::shaft;
use crate::parts::turbine::Nozzle;
use crate::plant::expand::{ExhaustGas, expand};

/// Steps from one evaluation of a slow law to the next.
///
/// The compressor's map: between, pressure follows the flow along the tangent; in four degrees the flow changes by a few
/// thousandths. The heat-transfer coefficient with a valve open: it is held, except in the slot in which the exhaust opens and
/// pressure falls fast. There it would cost 0.05 % of torque, elsewhere it costs 0.001 %.
const EVALUATE_EVERY: usize = 4;

/// Below this flow the compressor's work for each kilogram is no longer taken as power over flow. Chosen: below the
/// flow of any engine that runs; next to no flow that quotient means nothing.
const LEAST_FLOW_KG_S: f64 = 1e-3;

/// How much of a rising tangent a step of the duct's flow takes into account. Chosen: at one half the step is doubled; beyond,
/// its denominator would approach zero.
const MOST_RISE: f64 = 0.5;

/// Gas on one side of a valve at one stage of a step.
#[derive(Debug, Clone, Copy)]
struct Port {
    upstream: Upstream,
    h_j_kg: f64,
    x: f64,
}

impl Port {
    /// What a mass of this gas carries.
    #[inline(always)]
    fn carries(&self, m_kg: f64) -> Content {
        Content::of(m_kg, self.h_j_kg, self.x)
    }

    /// What passes in one step to a lower pressure, by area times step.
    #[inline(always)]
    fn through(&self, area_m2_s: f64, to_pa: f64) -> Content {
        self.carries(flow::through(area_m2_s, &self.upstream, to_pa))
    }
}

/// A manifold at one stage of a step.
#[derive(Debug, Clone, Copy)]
struct Manifold {
    port: Port,
    t_k: f64,
    r_j_kg_k: f64,
    /// Heat capacity at constant pressure, in J/(kg K).
    cp_j_kg_k: f64,
}

/// What one cylinder gains in one stage of a step.
#[derive(Debug, Clone, Copy, Default)]
struct Gain {
    content: Content,
    p_pa: f64,
    t_k: f64,
    walls_j: f64,
}

/// Compressor, cooler and duct near one flow.
#[derive(Debug, Clone, Copy, Default)]
struct Delivery {
    p1_pa: f64,
    at_kg_s: f64,
    p2_pa: f64,
    slope_pa_s_kg: f64,
    flow_coefficient_s_kg: f64,
    power_w: f64,
    work_j_kg: f64,
    cooler_j_kg: f64,
    h_j_kg: f64,
    loss_pa_s2_kg2: f64,
    /// Gain of flow in one step for each Pa, damped as a step along the tangent asks.
    follow_kg_s_pa: f64,
}

impl Delivery {
    /// Pressures behind the compressor and behind the cooler at a flow, along the tangents.
    #[inline(always)]
    fn pressures_pa(&self, flow_kg_s: f64) -> (f64, f64) {
        let p2_pa = self.p2_pa + self.slope_pa_s_kg * (flow_kg_s - self.at_kg_s);
        (p2_pa, p2_pa - self.loss_pa_s2_kg2 * flow_kg_s * math::fabs(flow_kg_s))
    }

    /// Work on the air of one step, in J. Next to no flow there is power without air.
    #[inline(always)]
    fn work_j(&self, air_kg: f64, dt_s: f64) -> f64 {
        if self.at_kg_s > LEAST_FLOW_KG_S { self.work_j_kg * air_kg } else { self.power_w * dt_s }
    }
}

/// What leaves the exhaust manifold in one stage of a step.
#[derive(Debug, Clone, Copy)]
struct Outflow {
    turbine_kg: f64,
    turbine_j: f64,
    turbine_ideal_j: f64,
    leak_kg: f64,
}

/// Both manifolds at one stage of a step, and what they gain from cylinders, duct and turbine.
#[derive(Debug, Clone, Copy)]
struct Stage {
    intake: Manifold,
    exhaust: Manifold,
    /// From the duct into the intake manifold.
    air: Content,
    /// Gain of the intake manifold through the valves.
    intake_gain: Content,
    /// Gain of the exhaust manifold through the valves.
    exhaust_gain: Content,
    out: Outflow,
    /// Heat that the exhaust manifold loses.
    loss_j: f64,
}

/// A coupled cylinder within an interval: where it stands, what its first stage found, and its gas worked out.
#[derive(Debug, Clone, Copy, Default)]
struct Slot {
    node: usize,
    first: Gain,
    amount: Amount,
}

/// What holds through one firing interval.
struct Interval<'a> {
    machine: &'a Machine,
    intake_1_m3: f64,
    exhaust_1_m3: f64,
    nozzle: Nozzle,
    friction_factor: f64,
    /// Share of the way to its target that the pressure behind the turbine goes in one step.
    p4_follow: f64,
    exhaust_loss_j_k: f64,
    live_shaft: bool,
    inertia_kg_m2: f64,
    /// Only the first coupled slot, which begins with shut valves, can still see fuel burning.
    release: Option<HeatRelease>,
}

impl Machine {
    /// Runs gas exchange through one firing interval with the shaft's speed held, as the steady solver wants it.
    pub fn run_exchange(&self, state: &mut GasExchange, recorder: Option<&mut Recorder>) -> Means {
        Interval::new(self, state, false).run(state, recorder)
    }

    /// Runs the whole engine through one firing interval. The shaft turns as its power balance says. Every cylinder is in the
    /// next slot afterwards.
    pub fn run_whole(&self, engine: &mut WholeEngine) -> Means {
        let mut closed = Strokes::default();
        for (slot, cylinder) in engine.closed.iter_mut().enumerate() {
            self.run_closed(cylinder, slot, 1, &mut closed, None);
        }
        let mut means = Interval::new(self, &engine.exchange, true).run(&mut engine.exchange, None);
        means.strokes.add_closed(&closed);
        engine.turn();
        means
    }

    /// Gas that fills a volume, as a valve sees it.
    #[inline(always)]
    fn port(&self, amount: &Amount, mr_j_k: f64, content: &Content, inverse_1_m3: f64) -> Port {
        let m_kg = content.m_kg;
        let pv = mr_j_k * amount.t_k;
        let p_pa = pv * inverse_1_m3;
        // Three reciprocals by one division.
        let cp = amount.heat_j_k + mr_j_k;
        let all = 1.0 / (p_pa * cp * m_kg);
        let inverse_1_kg = all * p_pa * cp;
        let upstream = Upstream {
            p_pa,
            inverse_1_pa: all * cp * m_kg,
            inverse_kg_j: all * cp * m_kg * m_kg * inverse_1_m3,
            inverse_gamma: amount.heat_j_k * all * p_pa * m_kg,
        };
        Port { upstream, h_j_kg: (content.u_j + pv) * inverse_1_kg, x: content.x_kg * inverse_1_kg }
    }

    #[inline(always)]
    fn manifold(&self, content: &Content, amount: &Amount, inverse_1_m3: f64) -> Manifold {
        let mr = self.plant.gas.mr_j_k(content);
        let port = self.port(amount, mr, content, inverse_1_m3);
        let inverse_1_kg = 1.0 / content.m_kg;
        Manifold {
            port,
            t_k: amount.t_k,
            r_j_kg_k: mr * inverse_1_kg,
            cp_j_kg_k: (amount.heat_j_k + mr) * inverse_1_kg,
        }
    }

    #[inline(always)]
    fn amount_of(&self, v: &Volume) -> Amount {
        self.plant.gas.amount(&v.content, v.t_k)
    }

    /// One stage of one step of a cylinder that is coupled to the manifolds. What passes its valves is booked in the gains
    /// of the two manifolds. The second stage may renew the heat-transfer coefficient.
    #[allow(clippy::too_many_arguments, reason = "the inner loop: every argument is a register")]
    #[inline(always)]
    fn coupled_gain<const SECOND: bool>(
        &self,
        cylinder: &mut Cylinder,
        amount: &mut Amount,
        node: &Node,
        d_volume: f64,
        intake: &Port,
        exhaust: &Port,
        intake_gain: &mut Content,
        exhaust_gain: &mut Content,
        renew_wall: bool,
    ) -> Gain {
        let content = cylinder.content;
        if SECOND {
            *amount = self.plant.gas.amount(&content, cylinder.t_k);
        } else {
            // The second stage of the last step has worked this instant out except for its correction.
            amount.t_k = amount.moved_t_k(&content);
        }
        let t_k = amount.t_k;
        let mr = self.plant.gas.mr_j_k(&content);
        let p_pa = mr * t_k * node.inverse_1_m3;
        if SECOND && renew_wall {
            self.renew_wall(cylinder, p_pa, t_k, node, 1.0);
        }
        let walls_j = self.wall_heat_j(cylinder, t_k, node);
        let mut gain = Content { u_j: -p_pa * d_volume - walls_j, ..Content::default() };
        let inside = |amount: &Amount| self.port(amount, mr, &content, node.inverse_1_m3);
        if node.intake_m2 > 0.0 {
            let area = self.dt_s * node.intake_m2;
            let drawn = if intake.upstream.p_pa >= p_pa {
                intake.through(area, p_pa)
            } else {
                inside(amount).through(-area, intake.upstream.p_pa)
            };
            gain += drawn;
            *intake_gain -= drawn;
        }
        if node.exhaust_m2 > 0.0 {
            let area = self.dt_s * node.exhaust_m2;
            let given = if p_pa >= exhaust.upstream.p_pa {
                inside(amount).through(area, exhaust.upstream.p_pa)
            } else {
                exhaust.through(-area, p_pa)
            };
            gain -= given;
            *exhaust_gain += given;
        }
        Gain { content: gain, p_pa, t_k, walls_j }
    }

    /// Compressor, cooler and duct at a flow.
    fn delivery(&self, line: &SpeedLine, flow_kg_s: f64) -> Delivery {
        let plant = &self.plant;
        let air = plant.compressed(line, flow_kg_s);
        let work_j_kg = air.point.power_w / math::fabs(flow_kg_s).max(LEAST_FLOW_KG_S);
        let cooled = plant.cooled(flow_kg_s, work_j_kg);
        let (cooler_slope_pa_s_kg, loss_pa_s2_kg2) = plant.cooler_slope(air.p2_pa, work_j_kg, flow_kg_s);
        let manifolds = &plant.engine.manifolds;
        let inertance = self.dt_s * manifolds.duct_area_m2 / manifolds.duct_length_m;
        let slope = air.point.slope_pa_s_kg - cooler_slope_pa_s_kg;
        let unit_flow_kg_s = line.flow_kg_s(&plant.turbocharger.compressor, &air.inlet, 1.0);
        Delivery {
            p1_pa: air.inlet.p_pa,
            at_kg_s: flow_kg_s,
            p2_pa: air.p2_pa,
            slope_pa_s_kg: air.point.slope_pa_s_kg,
            flow_coefficient_s_kg: 1.0 / unit_flow_kg_s.max(1e-9),
            power_w: air.point.power_w,
            work_j_kg,
            cooler_j_kg: cooled.heat_j_kg,
            h_j_kg: cooled.h_j_kg,
            loss_pa_s2_kg2,
            follow_kg_s_pa: inertance / (1.0 - (0.5 * inertance * slope).min(MOST_RISE)),
        }
    }

    /// What the duct brings into the intake manifold in one step; reversed flow takes the manifold's own gas.
    #[inline(always)]
    fn duct(&self, flow_kg_s: f64, air_h_j_kg: f64, intake: &Port) -> Content {
        let m_kg = flow_kg_s * self.dt_s;
        if flow_kg_s >= 0.0 { Content::of(m_kg, air_h_j_kg, 0.0) } else { intake.carries(m_kg) }
    }
}

impl<'a> Interval<'a> {
    fn new(machine: &'a Machine, state: &GasExchange, live_shaft: bool) -> Self {
        let engine = &machine.plant.engine;
        let share = machine.dt_s / engine.exhaust_pipe.fill_time_s;
        let first_deg = machine.slot_deg(machine.closed_slots);
        Self {
            machine,
            intake_1_m3: 1.0 / engine.manifolds.intake_volume_m3,
            exhaust_1_m3: 1.0 / engine.manifolds.exhaust_volume_m3,
            nozzle: Nozzle::at(&engine.turbine, state.vane),
            friction_factor: machine.plant.pipe_friction_factor(state.flow_kg_s, state.t4_k),
            p4_follow: share / (1.0 + 0.5 * share),
            exhaust_loss_j_k: engine.manifolds.exhaust_loss_w_k * machine.dt_s,
            live_shaft,
            inertia_kg_m2: machine.plant.turbocharger.inertia_kg_m2(),
            release: Some(machine.release(state.cylinders[0].fuel_kg)).filter(|r| r.end_deg() > first_deg),
        }
    }

    /// Steps through the interval. Long because everything that changes from step to step stands here together.
    fn run(&self, state: &mut GasExchange, mut recorder: Option<&mut Recorder>) -> Means {
        let machine = self.machine;
        let mut slots = self.slots(state);
        let (mut intake, mut exhaust) = (machine.amount_of(&state.intake), machine.amount_of(&state.exhaust));
        let mut out = {
            let manifold = machine.manifold(&state.exhaust.content, &exhaust, self.exhaust_1_m3);
            self.outflow(&manifold, state)
        };
        let mut line = machine.plant.speed_line(state.shaft_rad_s);
        let mut delivery = Delivery::default();
        let mut duct_weight = 0.0;
        let mut sums = Means { least_flow_kg_s: f64::INFINITY, ..Means::default() };
        for step in 0..machine.steps {
            let w0 = state.flow_kg_s;
            if step % EVALUATE_EVERY == 0 {
                if self.live_shaft && step > 0 {
                    line = machine.plant.speed_line(state.shaft_rad_s);
                }
                delivery = machine.delivery(&line, w0);
            }
            let (p2_pa, cooler_out_pa) = delivery.pressures_pa(w0);

            intake.t_k = intake.moved_t_k(&state.intake.content);
            exhaust.t_k = exhaust.moved_t_k(&state.exhaust.content);
            let first = self.first_stage(state, &mut slots, (&intake, &exhaust), out, w0, delivery.h_j_kg, &mut sums);
            let w1 = w0 + delivery.follow_kg_s_pa * (cooler_out_pa - first.intake.port.upstream.p_pa);
            let (intake_next, exhaust_next) = self.predicted(state, &first);
            (intake, exhaust) = (machine.amount_of(&intake_next), machine.amount_of(&exhaust_next));
            let manifolds = (
                machine.manifold(&intake_next.content, &intake, self.intake_1_m3),
                machine.manifold(&exhaust_next.content, &exhaust, self.exhaust_1_m3),
            );
            let air = machine.duct(w1, delivery.h_j_kg, &manifolds.0.port);
            let renew_all = step % EVALUATE_EVERY == 0;
            let second =
                self.second_stage(state, &mut slots, manifolds, air, renew_all, &mut sums.strokes, &mut recorder);
            out = second.out;
            if let Some(record) = recorder.as_deref_mut() {
                record.manifolds(step, first.intake.port.upstream.p_pa, first.exhaust.port.upstream.p_pa);
            }

            let intake_pa = Self::mean(first.intake.port.upstream.p_pa, second.intake.port.upstream.p_pa);
            let rise_pa = delivery.follow_kg_s_pa * (cooler_out_pa - intake_pa);
            state.flow_kg_s = w0 + rise_pa;
            duct_weight += delivery.follow_kg_s_pa;
            sums.duct_pa += rise_pa;
            sums.intake_pa += intake_pa;
            sums.p1_pa += delivery.p1_pa;
            sums.p2_pa += p2_pa;
            sums.cooler_out_pa += cooler_out_pa;
            sums.flow_coefficient += w0 * delivery.flow_coefficient_s_kg;
            sums.least_flow_kg_s = sums.least_flow_kg_s.min(w0);
            self.advance(state, &first, &second, &delivery, &mut sums);
        }
        for cylinder in &mut state.cylinders {
            cylinder.settle(&machine.plant.gas);
        }
        state.intake.settle(&machine.plant.gas);
        state.exhaust.settle(&machine.plant.gas);
        sums.duct_pa /= duct_weight;
        sums.share_out(machine.steps);
        sums.time_s = machine.interval_s();
        sums
    }

    /// The coupled cylinders at the beginning of the interval.
    fn slots(&self, state: &GasExchange) -> [Slot; MOST_CYLINDERS] {
        let machine = self.machine;
        let mut slots = [Slot::default(); MOST_CYLINDERS];
        for (i, (slot, c)) in slots.iter_mut().zip(&state.cylinders).enumerate() {
            slot.node = machine.node(machine.closed_slots + i);
            slot.amount = machine.plant.gas.amount(&c.content, c.t_k);
        }
        slots
    }

    /// The first stage: the beginning of the step. Each cylinder itself moves to where this stage would take it; the second
    /// stage corrects that.
    #[allow(clippy::too_many_arguments, reason = "the inner loop: every argument is a register")]
    #[inline(always)]
    fn first_stage(
        &self,
        state: &mut GasExchange,
        slots: &mut [Slot; MOST_CYLINDERS],
        (intake, exhaust): (&Amount, &Amount),
        out: Outflow,
        flow_kg_s: f64,
        air_h_j_kg: f64,
        sums: &mut Means,
    ) -> Stage {
        let machine = self.machine;
        let intake = machine.manifold(&state.intake.content, intake, self.intake_1_m3);
        let exhaust = machine.manifold(&state.exhaust.content, exhaust, self.exhaust_1_m3);
        let air = machine.duct(flow_kg_s, air_h_j_kg, &intake.port);
        let (mut intake_gain, mut exhaust_gain) = (Content::default(), Content::default());
        for (cylinder, slot) in state.cylinders.iter_mut().zip(slots.iter_mut()) {
            let (now, next) = (&machine.nodes[slot.node], &machine.nodes[slot.node + 1]);
            let gain = machine.coupled_gain::<false>(
                cylinder,
                &mut slot.amount,
                now,
                next.volume_m3 - now.volume_m3,
                &intake.port,
                &exhaust.port,
                &mut intake_gain,
                &mut exhaust_gain,
                false,
            );
            cylinder.content += gain.content;
            cylinder.t_k = gain.t_k;
            slot.first = gain;
        }
        if let Some(release) = &self.release {
            let deg = machine.firing_deg(slots[0].node);
            let cylinder = &mut state.cylinders[0];
            let burn_kg = cylinder.fuel_kg * (release.burned(deg + machine.step_deg) - release.burned(deg));
            if burn_kg > 0.0 {
                cylinder.content +=
                    Content { m_kg: burn_kg, u_j: burn_kg * machine.plant.gas.fuel_h_j_kg, x_kg: burn_kg };
                sums.strokes.fuel_kg += burn_kg;
            }
        }
        Stage { intake, exhaust, air, intake_gain, exhaust_gain, out, loss_j: self.loss_j(&exhaust) }
    }

    /// Where the first stage would take the manifolds.
    #[inline(always)]
    fn predicted(&self, state: &GasExchange, first: &Stage) -> (Volume, Volume) {
        let gone = first.exhaust.port.carries(first.out.turbine_kg + first.out.leak_kg);
        let mut exhaust = state.exhaust.content + first.exhaust_gain - gone;
        exhaust.u_j -= first.loss_j;
        (
            Volume { content: state.intake.content + first.intake_gain + first.air, t_k: first.intake.t_k },
            Volume { content: exhaust, t_k: first.exhaust.t_k },
        )
    }

    /// The second stage: the end of the step, as the first stage predicts it.
    #[allow(clippy::too_many_arguments, reason = "the inner loop: every argument is a register")]
    #[inline(always)]
    fn second_stage(
        &self,
        state: &mut GasExchange,
        slots: &mut [Slot; MOST_CYLINDERS],
        (intake, exhaust): (Manifold, Manifold),
        air: Content,
        renew_all: bool,
        strokes: &mut Strokes,
        recorder: &mut Option<&mut Recorder>,
    ) -> Stage {
        let machine = self.machine;
        let out = self.outflow(&exhaust, state);
        let per_cycle = machine.per_cycle();
        let (mut intake_gain, mut exhaust_gain) = (Content::default(), Content::default());
        for (i, (cylinder, slot)) in state.cylinders.iter_mut().zip(slots.iter_mut()).enumerate() {
            let index = slot.node;
            let (now, next) = (&machine.nodes[index], &machine.nodes[index + 1]);
            let d_volume = next.volume_m3 - now.volume_m3;
            let gain = machine.coupled_gain::<true>(
                cylinder,
                &mut slot.amount,
                next,
                d_volume,
                &intake.port,
                &exhaust.port,
                &mut intake_gain,
                &mut exhaust_gain,
                i == 0 || renew_all,
            );
            let first = &slot.first;
            cylinder.content += (gain.content - first.content) * 0.5;
            cylinder.t_k = gain.t_k;
            let work = 0.5 * (first.p_pa + gain.p_pa) * d_volume;
            strokes.gross_j += now.gross * work;
            strokes.exchange_j += (1.0 - now.gross) * work;
            strokes.walls_j += 0.5 * (first.walls_j + gain.walls_j);
            if let Some(record) = recorder.as_deref_mut() {
                record.cylinder(index, first.p_pa, first.t_k);
            }
            slot.node = if index + 1 == per_cycle { 0 } else { index + 1 };
        }
        Stage { intake, exhaust, air, intake_gain, exhaust_gain, out, loss_j: self.loss_j(&exhaust) }
    }

    /// Takes manifolds, outlet and shaft to the end of the step by the mean of both stages, and books what passed.
    #[inline(always)]
    fn advance(&self, state: &mut GasExchange, first: &Stage, second: &Stage, delivery: &Delivery, sums: &mut Means) {
        let machine = self.machine;
        let mean = Self::mean;
        let intake_gain = Content::mean(first.intake_gain, second.intake_gain);
        let exhaust_gain = Content::mean(first.exhaust_gain, second.exhaust_gain);
        let air = Content::mean(first.air, second.air);
        let carried = |stage: &Stage, m_kg: f64| stage.exhaust.port.carries(m_kg);
        let turbine = Content::mean(carried(first, first.out.turbine_kg), carried(second, second.out.turbine_kg));
        let turbine_j = mean(first.out.turbine_j, second.out.turbine_j);
        let loss_j = mean(first.loss_j, second.loss_j);

        state.intake.content += intake_gain + air;
        state.intake.t_k = second.intake.t_k;
        let mut gain = exhaust_gain - turbine;
        gain.u_j -= loss_j;
        state.exhaust.content += gain;
        if machine.plant.engine.manifolds.exhaust_leak_m2 > 0.0 {
            let leak = Content::mean(carried(first, first.out.leak_kg), carried(second, second.out.leak_kg));
            state.exhaust.content -= leak;
            sums.leak += leak;
        }
        state.exhaust.t_k = second.exhaust.t_k;

        if turbine.m_kg > 0.0 {
            state.t4_k = second.exhaust.t_k - turbine_j / (turbine.m_kg * second.exhaust.cp_j_kg_k);
        }
        let p4_target_pa = machine.plant.back_pressure_pa(
            turbine.m_kg / machine.dt_s,
            state.t4_k,
            second.exhaust.r_j_kg_k,
            self.friction_factor,
        );
        let p4_before = state.p4_pa;
        state.p4_pa += self.p4_follow * (p4_target_pa - state.p4_pa);
        let compressor_j = delivery.work_j(air.m_kg, machine.dt_s);
        if self.live_shaft {
            let bearing_w = machine.plant.turbocharger.shaft.bearing_loss_w(state.shaft_rad_s);
            let net_j = turbine_j - compressor_j - bearing_w * machine.dt_s;
            state.shaft_rad_s = shaft::speed_after_rad_s(self.inertia_kg_m2, state.shaft_rad_s, net_j);
        }

        sums.air += air;
        sums.compressor_j += compressor_j;
        sums.cooler_j += delivery.cooler_j_kg * air.m_kg;
        sums.intake_k += mean(first.intake.t_k, second.intake.t_k);
        sums.drawn -= intake_gain;
        sums.given += exhaust_gain;
        sums.p3_pa += mean(first.exhaust.port.upstream.p_pa, second.exhaust.port.upstream.p_pa);
        sums.exhaust_loss_j += loss_j;
        sums.turbine += turbine;
        sums.turbine_j += turbine_j;
        sums.turbine_ideal_j += mean(first.out.turbine_ideal_j, second.out.turbine_ideal_j);
        sums.p4_pa += mean(p4_before, state.p4_pa);
        sums.p4_target_pa += p4_target_pa;
    }

    /// What leaves the exhaust manifold in one step: through the turbine and through the hole, if there is one.
    #[inline(always)]
    fn outflow(&self, exhaust: &Manifold, state: &GasExchange) -> Outflow {
        let machine = self.machine;
        let upstream = &exhaust.port.upstream;
        let from = ExhaustGas { p_pa: upstream.p_pa, t_k: exhaust.t_k, r_j_kg_k: exhaust.r_j_kg_k, x: exhaust.port.x };
        let tip_speed_m_s = machine.plant.turbocharger.turbine.tip_speed_m_s(state.shaft_rad_s);
        let point = expand(&self.nozzle, tip_speed_m_s, &machine.plant.gas, &from, state.p4_pa, state.t4_k);
        let turbine_kg = point.flow_kg_s * machine.dt_s;
        Outflow {
            turbine_kg,
            turbine_j: point.power_w * machine.dt_s,
            turbine_ideal_j: turbine_kg * point.isentropic_drop_j_kg,
            leak_kg: machine.plant.leak_kg(upstream, machine.dt_s),
        }
    }

    /// Heat that the exhaust manifold loses in one step.
    #[inline(always)]
    fn loss_j(&self, exhaust: &Manifold) -> f64 {
        self.exhaust_loss_j_k * (exhaust.t_k - self.machine.plant.engine.manifolds.exhaust_sink_k)
    }

    #[inline(always)]
    fn mean(a: f64, b: f64) -> f64 {
        0.5 * (a + b)
    }
}
