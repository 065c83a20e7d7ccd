//! Every quantity that the bench shows, explained: what it is, how it is measured on a real engine, where it misleads.
//!
//! Keys are those of [`volute_quantities`], which also has the units: a view that knows what a lesson may cover finds its
//! explanation as well. A few entries explain what is no number of its own. What is said about sensors and habits is common
//! practice, without a source; where a standard is named (SAE J922 for terms, SAE J1826 for the gas stand, ISO 1585 and ISO 3046
//! for engine power) it is named from memory.

use crate::language::t;
use crate::units::UnitSystem;
pub use volute_quantities::quantities::limit_key;
use volute_quantities::quantities::quantity;

/// One quantity, explained.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// Its key.
    pub key: &'static str,
    /// Other names that lead here, such as a hook of the page.
    pub also: &'static [&'static str],
    /// Name, as the page writes it.
    pub name: &'static str,
    /// Symbol in plain text, `p2`; empty where the trade has none.
    pub symbol: &'static str,
    /// Symbol of the unit, for what is no quantity of a reading.
    unit: &'static str,
    /// What it is.
    pub is: &'static str,
    /// How it is measured on a real engine: sensor, place, what spoils it.
    pub measured: &'static str,
    /// Where it misleads.
    pub misleads: &'static str,
}

impl Entry {
    /// The symbol of its unit; empty for a plain number.
    pub fn unit(&self, units: UnitSystem) -> &'static str {
        quantity(self.key).map_or_else(|| t(self.unit), |quantity| units.unit(quantity.kind).symbol)
    }
}

/// The explanation of a quantity, by its key or another of its names.
pub fn entry(name: &str) -> Option<&'static Entry> {
    ENTRIES.iter().find(|e| e.key == name || e.also.contains(&name))
}

macro_rules! entries {
    ($($key:literal $(also $also:literal)*, $name:literal, $symbol:literal $(, in $unit:literal)?,
        $is:literal, $measured:literal, $misleads:literal;)+) => {
        /// Every entry: along the air path, then the turbocharger, the engine, and where heat goes.
        pub static ENTRIES: &[Entry] = &[$(Entry {
            key: $key, also: &[$($also),*], name: $name, symbol: $symbol, unit: concat!($($unit)?),
            is: $is, measured: $measured, misleads: $misleads,
        },)+];
    };
}

entries! {
    "p_amb", "Ambient pressure", "p_amb",
        "Absolute pressure of the air outside, the barometer where the engine stands. Every gauge reading counts from it.",
        "A barometer in the test cell, read at the engine's height. A weather report is reduced to sea level and has to be brought back to the place first; a fan or a closed cell moves the pressure a little.",
        "It changes with weather by a few per cent and with altitude by about a tenth for each 1000 m, and the boost gauge shows neither. Adding the sea-level value to a gauge reading on a mountain is wrong by the whole difference.";
    "t_amb", "Ambient temperature", "T_amb",
        "Temperature of the air outside, before the filter.",
        "A shaded sensor in moving air near the inlet. Sun, the engine's own heat and the cooling fan's warm air make it read high.",
        "The engine breathes what arrives at its inlet. Under a hood or in a small engine room that is much warmer than the weather.";
    "humidity", "Relative humidity", "",
        "Water vapour in the air as a share of the most that air of this temperature holds. Vapour takes the place of oxygen.",
        "A capacitive hygrometer, or wet and dry thermometers, at the inlet. Condensation and dust spoil the sensor; the temperature has to be read at the same place.",
        "The same percentage is little water in cold air and much in hot air: half saturated it is about 0.3 % of the mass at 5 °C and 1.8 % at 35 °C.";

    "p1", "Compressor inlet pressure", "p1",
        "Absolute pressure just ahead of the compressor wheel, station 1. It lies below ambient by what filter and inlet pipe take.",
        "A wall tapping in a straight piece of pipe ahead of the wheel, often as a depression against ambient. A bend, or swirl that the wheel sends back near surge, spoils it.",
        "A static tapping reads lower than the total pressure where air moves fast. A depression gauge looks harmless at part load: the loss grows with the square of the flow.";
    "t1", "Compressor inlet temperature", "T1",
        "Temperature of the air that enters the compressor, station 1.",
        "A thermocouple or resistance thermometer in the pipe ahead of the wheel. Heat from the compressor housing, recirculating air near surge and warm crankcase gas make it read high.",
        "A few kelvin too many here go straight into the compressor efficiency. Ambient temperature is no substitute under a hood. On this bench the inlet pipe adds no heat.";
    "rho1", "Density at the compressor inlet", "ρ1",
        "Mass of a cubic metre of the air at station 1, from p1 and T1.",
        "It is calculated: absolute pressure over gas constant times absolute temperature. Errors of both sensors enter in proportion.",
        "It is the base of the density ratio. The same ratio at altitude stands on thinner air and means fewer kilograms.";

    "p2", "Compressor outlet pressure", "p2",
        "Absolute pressure behind the compressor, station 2, ahead of the charge cooler. It is the intake side of the pressure balance.",
        "A wall tapping in straight pipe some diameters behind the outlet, to a transducer on a short line. Swirl close to the housing, a tapping with burrs, and water in the line spoil it.",
        "A boost gauge on the manifold does not show it: the pressure loss of the charge cooler lies between. A blocked cooler raises p2 while the engine gets less air.";
    "t2", "Compressor outlet temperature", "T2",
        "Temperature behind the compressor. Compression heats the air, and a poor efficiency heats it more.",
        "A thin probe in the middle of the outlet pipe. Heat from the turbine side and radiation from the exhaust raise it at low flow; a probe that only touches the wall lags and reads low.",
        "At a small pressure ratio the rise is only some kelvin, and half a kelvin of error changes the efficiency by several points. A falling T2 at equal boost is good news only while the shaft speed is known.";
    "rho2", "Density at the compressor outlet", "ρ2",
        "Mass of a cubic metre of the air behind the compressor, before it is cooled.",
        "It is calculated from p2 and T2, both absolute.",
        "It stands between compressor and cooler, where no cylinder breathes. The density in the intake manifold decides about fuel.";

    "p_im", "Intake-manifold pressure", "p_im",
        "Absolute pressure of the air that the cylinders draw from, behind the charge cooler.",
        "A tapping on the manifold, damped, away from the first port. Intake pulses, a leaking hose to the gauge, and oil in it spoil the reading.",
        "It says how hard the air is pressed, and nothing about how warm it is. At equal pressure air 30 K warmer is about a tenth less air.";
    "boost", "Boost", "p_im − p_amb",
        "Intake-manifold pressure above ambient: what a boost gauge shows.",
        "A gauge or a differential transducer on the intake manifold. The zero has to be checked with the engine stopped; a kinked or leaking hose reads low.",
        "It rises when a charge cooler fouls, when the air gets thin, and when the vanes close past their best position, while air or torque falls. Boost alone does not tell whether the turbocharger still helps.";
    "t_cooler", "Charge-cooler outlet temperature", "",
        "Temperature of the air as it leaves the charge cooler, before anything flows back out of the cylinders.",
        "A probe in the outlet pipe of the cooler, in the middle of the stream. The outlet is often colder on one side: one probe near the wall reads a part of it.",
        "A low value can mean a good cooler or only little flow. It has to be held against the coolant's temperature and against T2.";
    "t_im" also "charge_temperature", "Charge temperature", "T_im",
        "Temperature of the charge in the intake manifold, as the cylinders draw it. Exhaust gas that flows back through an open intake valve is in it.",
        "A fast, thin probe in the manifold, not in the metal. Heat from the cylinder head makes it read high at low flow and after a stop.",
        "It decides about density together with pressure. A manifold sensor that sits in a warm boss hides a good cooler and excuses a bad one.";
    "rho_im", "Density in the intake manifold", "ρ_im",
        "Mass of a cubic metre of the charge that the cylinders draw.",
        "It is calculated from the absolute pressure and temperature of the manifold. It is no better than the worse of the two sensors.",
        "It sets how much air a cylinder can take, but the cylinder also has to be rid of the last charge: a high exhaust pressure leaves burnt gas behind.";

    "p3", "Exhaust-manifold pressure", "p3",
        "Absolute pressure ahead of the turbine, station 3, as the mean over the cycle. The pistons push the exhaust out against it.",
        "A tapping in the manifold close to the turbine, through a cooled or long steel line, averaged over many cycles. Soot and water block the line; a line that resonates adds its own pulses.",
        "It is often logged as gauge by mistake, and then the balance looks good. The mean hides pulses that reach half as high again and more.";
    "t3" also "turbine_inlet_temperature", "Turbine-inlet temperature", "T3",
        "Temperature of the gas ahead of the turbine. The bench gives that of the mean energy of the stream, so that the turbine's balance closes.",
        "A sheathed thermocouple in the manifold near the turbine. It averages over time instead of mass, loses heat by radiation to the wall, lags by seconds, and ages; with strong pulses it can read tens of kelvin low.",
        "A cool T3 does not prove a good vane position: with more air for the same fuel it falls while pumping rises. After a load step it arrives too late to warn.";
    "p4", "Turbine outlet pressure", "p4",
        "Absolute pressure behind the turbine, station 4. It lies above ambient by what exhaust pipe and silencer take.",
        "A wall tapping in straight pipe some diameters behind the wheel. Swirl behind the wheel makes a tapping close to it read wrong.",
        "A few kilopascal here are multiplied by the expansion ratio on their way to p3. Taking ambient instead makes the turbine look better than it is.";
    "t4", "Turbine outlet temperature", "T4",
        "Temperature of the gas behind the turbine, after it has given its work to the shaft.",
        "A thermocouple in the exhaust pipe behind a mixing length. Swirl, a cold wall and heat lost through the turbine housing spoil it.",
        "The drop from T3 to T4 holds the housing's heat loss besides the work, so turbine power is not to be had from it. The limit of a turbine is usually stated at T3, not here.";
    "balance" also "pressure_balance", "Pressure balance", "p2 − p3",
        "Compressor outlet pressure minus exhaust-manifold pressure. Above zero it helps the pistons breathe, below zero they pump against it.",
        "The difference of two absolute pressures, best by one differential transducer between the two tappings. Two gauges of different reference or zero shift it by their whole error.",
        "It points to the pumping loss but is not it: ports and valves take their share, so break-even still costs some. A blocked or missing charge cooler makes it look better while the engine gets less air.";

    "pressure_ratio", "Pressure ratio", "p2/p1",
        "How many times the compressor raises the absolute pressure.",
        "It is calculated from p2 and p1, both absolute, both total pressures on a gas stand (SAE J1826).",
        "A ratio of gauge readings means nothing: at standstill it has to be one. The same boost takes a larger ratio at altitude or behind a dirty filter.";
    "density_ratio" also "density", "Density ratio", "ρ_im/ρ1",
        "Density in the intake manifold over that at the compressor inlet: what compression and cooling together do for the air.",
        "It is calculated from four sensors: absolute pressure and temperature at both places.",
        "It says how much air fits into a space, not how much arrives in the cylinder. It counts from the inlet air, which may already be thin.";
    "density_ratio_uncooled", "Density ratio, uncooled", "ρ2/ρ1",
        "Density behind the compressor over that at its inlet: what compression alone does. It stays below the pressure ratio, because compression heats the air.",
        "It is calculated from p1, T1, p2 and T2. A T2 probe that reads low makes it read high.",
        "The gap to the pressure ratio is partly unavoidable: even a perfect compressor heats the air. Only the rest belongs to its efficiency.";
    "expansion_ratio", "Expansion ratio", "p3/p4",
        "How many times the absolute pressure falls through the turbine.",
        "It is calculated from p3 and p4, both absolute.",
        "Ambient instead of p4 makes it too large, gauge readings make it meaningless. Of the mean pressures it is less than what the pulses really do.";

    "vane" also "vane_position", "Vane position", "",
        "Where the ring of turbine vanes stands: 0 % at the tightest stop, 100 % fully open.",
        "A position sensor on the actuator or its lever, taught at both stops. Play in the linkage, soot on the ring and a wrong end stop come between sensor and vanes.",
        "The commanded position is not the real one: a ring that sticks is seen only in the answer of the engine. Equal steps in per cent are unequal steps in pressure; near the tight stop a little does much.";
    "nozzle_area" also "throat", "Throat area", "A",
        "Effective area of the narrowest passages between the vanes, all together. The gas has to pass it, so it sets p3 for a given flow.",
        "It is not measured on a running engine. It is calculated from flow, T3, p3 and p4, or found from a flow bench and the vane position.",
        "The effective area is smaller than the drawn one, and soot, wear and a leak past the vane ends change it. A turbine of smaller area is not a turbine with a smaller wheel.";
    "turbine_flow_parameter" also "flow_parameter", "Turbine flow parameter", "W√T3/p3", in "kg/s·√K/kPa",
        "Turbine flow with the inlet state taken out, so that one curve holds for hot and cold gas. It stops growing when the nozzle chokes.",
        "It is calculated from air plus fuel flow, T3 and absolute p3. On a gas stand steady hot air takes the place of exhaust (SAE J1826).",
        "Makers print it with different units and reference states. Two values compare only when both are brought to the same ones.";

    "shaft" also "shaft_speed", "Shaft speed", "n",
        "Speed of the turbocharger shaft. Compressor and turbine wheel sit on it and always turn together.",
        "An eddy-current or magnetic pick-up at the compressor blades or the nut, its pulses divided by the number of blades. A wrong blade count is wrong in the ratio of the counts; heat and dirt weaken the signal.",
        "It cannot be heard or told from boost: at altitude or behind a dirty filter the same boost takes a faster shaft. It is a limit that no boost gauge shows.";
    "tip_speed", "Tip speed", "U2",
        "Speed of the outer edge of the compressor wheel. Stress in the wheel grows with its square.",
        "It is calculated: pi times wheel diameter times shaft speed. The diameter at the outlet counts, not that of the inlet.",
        "A limit in tip speed belongs to one wheel of one material. The same shaft speed is harmless for a smaller wheel and too much for a larger one.";
    "compressor_efficiency", "Compressor efficiency", "ηc",
        "Work that a perfect compressor needs for the same pressures, over the work that went into the air. The bench takes total states and real gas properties.",
        "It is calculated from p1, T1, p2 and T2, on a gas stand after SAE J1826. Heat from the turbine side raises T2 and lowers the value at low speed; an error of T2 is largest at small pressure ratios.",
        "The apparent value on an engine mixes heat with work and is worst at idle. Values above one come from a sensor, never from a wheel.";
    "turbine_efficiency" also "turbine_efficiency_of_means", "Turbine efficiency", "ηt",
        "Work that the wheel takes from the gas, over what a perfect turbine takes between the same states. The bench counts total inlet to static outlet, instant by instant over the cycle.",
        "On an engine it follows from compressor power plus bearing loss, because T4 holds heat losses besides work. A gas stand gives it for steady flow (SAE J1826), often with the bearing loss inside.",
        "Of mean pressures it can look better than it is, because pulses carry more energy than their mean. A map printed as total to total, or with the mechanical loss in it, does not compare.";
    "blade_speed_ratio", "Blade-speed ratio", "U/C0",
        "Tip speed of the turbine wheel over the velocity that the gas reaches if it expands without a wheel. A radial wheel works best near 0.65 to 0.7.",
        "It is calculated from shaft speed, wheel diameter, T3 and the expansion ratio.",
        "Over a pulse it swings widely, and the mean state shows only the middle. A good mean value does not make a good turbine.";
    "compressor_power", "Compressor power", "Pc",
        "Power that the compressor puts into the air.",
        "It is calculated: air flow times heat capacity times T2 minus T1. Errors of the air meter and of the temperature rise enter in full.",
        "It comes from the exhaust, and part of it from the pistons: a large value is not a gain as such. More of it turns into heat when efficiency falls.";
    "turbine_power", "Turbine power", "Pt",
        "Power that the turbine takes from the gas. At a steady point it equals compressor power plus bearing loss.",
        "It follows from the compressor side and the bearing loss. From T3 and T4 it comes out too high, because housing and pipe lose heat.",
        "It is not free: the expansion that yields it stands in the exhaust manifold, and the pistons push against it. Only the part that the gas would have wasted on leaving the cylinder comes without a price.";
    "bearing_loss", "Bearing loss", "",
        "Power that the turbocharger's bearings turn into heat in the oil.",
        "Oil flow times its heat capacity times its temperature rise, on a test stand. On an engine heat from the turbine enters the same oil and spoils it.",
        "It is small at full load, but at idle a worn or cold bearing takes a large part of what the turbine gives. It does not show in boost until the shaft hardly turns.";
    "surge", "Surge", "",
        "The compressor can no longer hold its flow against the pressure behind it: the flow breaks away, reverses and comes back, several times a second.",
        "Heard as barking or fluttering, seen as swings of p1, p2 and air flow on a fast recorder. A damped gauge hides it.",
        "A point that just does not surge on a quiet day surges with the next dirty filter or load drop. It comes with too little flow at too much pressure, which tight vanes at low speed bring about.";
    "surge_margin", "Surge margin", "",
        "How far the flow stands above that of the surge line at the same shaft speed, as a share of it.",
        "It is calculated from corrected flow and the compressor map. The map's own surge line was found on one rig with its own pipes; on the engine it lies elsewhere, pulses included.",
        "There are several definitions, at equal speed or at equal pressure ratio, and their numbers differ. One that is good in steady running is used up within a fraction of a second when the load is dropped.";
    "choke", "Choke", "",
        "The inlet of the compressor, or the throat of the turbine, passes no more: the gas moves at the speed of sound in the narrowest section.",
        "On a map the speed lines fall off steeply; on an engine shaft speed climbs while air flow stands still and efficiency falls.",
        "Boost can still rise a little while the air flow does not. A choked turbine nozzle is an ordinary state, a choked compressor is a sign that it is too small.";
    "choke_margin", "Choke margin", "",
        "How far the flow stands below the compressor's choke flow at the same shaft speed, as a share of it.",
        "It is calculated from corrected flow and the compressor map. Maps often end where efficiency has fallen to some value, not at choke itself.",
        "Efficiency is lost long before the margin is. A margin that looks safe in the lowlands is smaller at altitude, because thin air takes more volume.";
    "response_time", "Response time", "", in "s",
        "Time from a load step until torque has made nine tenths of its way to the new value.",
        "Torque at the brake and a recorder with a hundred points a second or more. The brake's own inertia and control, and filters in the logger, add to it.",
        "It depends on where the shaft, the vanes and the load stood before the step. A step that the trapped air can already burn shows no delay at all.";

    "speed" also "engine_speed", "Engine speed", "",
        "Speed of the crankshaft. On the bench the brake holds it.",
        "A toothed wheel with a pick-up, or the brake's encoder. Missing teeth, wrong tooth counts and slow averaging spoil it.",
        "The same torque at another speed is another air flow, so a vane position that was best at one speed is not at the next.";
    "torque" also "load", "Torque", "",
        "Torque at the crankshaft: gas work less pumping less friction. The load is held either as torque or as fuel.",
        "A load cell on the arm of the brake, or a torque flange. The zero drifts with temperature, hoses to the brake pull on the arm, and inertia adds to it while speed changes.",
        "While torque is held, a loss hides in the fuel: look at fuel, not at torque. While fuel is held, torque shows it.";
    "power" also "brake_power", "Brake power", "",
        "Power at the crankshaft: torque times speed.",
        "From torque and speed of the brake. What is driven by the engine during the test has to be stated, as ISO 1585 and ISO 3046 ask.",
        "Printed values are corrected to a reference day, and standards correct differently; the bench corrects nothing. Power at one point says nothing about its price in fuel or heat.";
    "bmep", "Brake mean effective pressure", "BMEP",
        "Torque over swept volume, as a pressure: it compares engines of different size.",
        "It is calculated: for a four-stroke 4 pi times torque over displacement.",
        "It is no pressure that stands anywhere, neither gauge nor absolute. The pressure in the cylinder is many times as high at its peak.";
    "brake_efficiency", "Brake efficiency", "ηe",
        "Share of the fuel's energy, by its lower heating value, that arrives at the crankshaft.",
        "From torque, speed and fuel flow, and the heating value of the fuel in the tank. Fuel that returns warm and air in the line spoil the fuel flow.",
        "With the higher heating value it comes out lower in the ratio of the two, by some 6 %. It falls at light load in every engine, because friction stays.";
    "fuel_consumption" also "bsfc", "Specific fuel consumption", "BSFC",
        "Fuel flow over brake power: how much fuel a kilowatt hour costs at this point.",
        "A fuel balance or a mass meter over some minutes, and the brake. ISO 3046 says for which fuel and day a declared value holds.",
        "It says nothing at idle, where power is near zero. The least consumption is at another point than the most power.";
    "fuel" also "fuel_per_cycle", "Fuel per cycle", "",
        "Fuel that one cylinder gets in one cycle.",
        "Fuel flow over the number of injections in the same time. A control unit's own value is a command, computed from pressure and opening time, and is not measured.",
        "Injectors differ by some per cent between cylinders, and the mean hides it. Doubling the fuel does not double the torque when the air does not follow.";
    "fuel_flow", "Fuel flow", "",
        "Fuel that the engine burns in a second.",
        "A fuel balance, or a mass meter in the supply with the return led back behind it. Air bubbles, a second meter forgotten in the return, and warm fuel spoil it.",
        "A short reading catches the pump's pulses. A volume meter needs the fuel's density at its temperature.";
    "air_flow", "Air flow", "",
        "Fresh air that the engine draws, as mass.",
        "A hot-film meter, a nozzle or a turbine meter far ahead of the filter, with a damping tank where the flow pulses. Leaks behind the meter, oil on the film and pulses spoil it.",
        "It is what fuel needs, and no pressure gauge shows it. Corrected flow on a compressor map is another number: it is brought to a reference day.";
    "exhaust_leak", "Exhaust leak", "",
        "Exhaust gas that escapes through a hole in the exhaust manifold, ahead of the turbine.",
        "It is not measured as such. Soot at a joint and a hiss after a cold start show the hole; the flow follows from its size and p3.",
        "The turbine never gets this gas: boost and shaft speed fall, and it looks like a worn turbocharger or like vanes that stand too wide.";
    "afr", "Air–fuel ratio", "AFR",
        "Mass of air for each mass of fuel. A diesel runs with more air than the fuel needs; complete burning takes about 14.7.",
        "From air flow and fuel flow, or from exhaust oxygen. Air that leaks out ahead of the engine, or into the exhaust ahead of the probe, makes it read lean.",
        "It is a mean: the mixture is rich in the spray and air elsewhere, so smoke comes long before the air is used up. During a load step it falls far below its steady value.";
    "smoke_limit", "Smoke limit", "",
        "The least air–fuel ratio that the injection allows. Where torque is held, fuel is cut back there.",
        "A smoke meter in the exhaust while fuel is raised in steps; the limit is set where smoke reaches an agreed value. It is kept by a map in the control unit or by a stop on the pump that boost moves.",
        "A control unit that keeps it by boost alone gives too much fuel when the air is warm. It guards against smoke, not against heat or shaft speed.";

    "imep" also "gross_work", "Gross indicated work", "IMEP",
        "Work of the compression and expansion strokes over swept volume, before pumping and friction are taken off.",
        "A pressure sensor in the cylinder and an encoder on the crank. An error of one degree in top dead centre changes it by several per cent; thermal shock bends the end of the trace.",
        "Gross and net are both called indicated. The net value has the pumping loop in it, and mixing the two hides or doubles the pumping loss.";
    "pmep", "Pumping mean effective pressure", "PMEP",
        "Work of the two gas-exchange strokes over swept volume, positive when it costs torque. It is the area of the gas-exchange loop, on the bench as on a real indicator.",
        "A low-pressure sensor in the cylinder or a referenced high-pressure one, and an encoder. Drift of a few kilopascal is as large as the value itself.",
        "Some books give it the other sign. At p2 equal to p3 it is still above zero, and more so at high speed.";
    "pumping_torque" also "pumping", "Pumping loss", "",
        "Torque that the pistons spend on pushing the exhaust out and drawing the charge in; below zero the charge pushes them.",
        "It is calculated from the area of the gas-exchange loop, as pumping mean effective pressure times displacement over 4 pi.",
        "A brake does not show it apart from friction. Held at equal torque, a rising pumping loss hides in the fuel.";
    "pumping_power", "Pumping power", "",
        "Pumping torque times engine speed.",
        "It is calculated from the area of the gas-exchange loop and the engine speed.",
        "It grows with speed even where the pumping torque stays the same. It is not the power of the turbine, though part of that comes out of it.";
    "fmep" also "friction", "Friction", "FMEP",
        "Rubbing friction and auxiliaries over swept volume, from peak cylinder pressure and piston speed.",
        "The difference of net indicated and brake work, or turning the engine without fuel. The first is a small difference of two large numbers, the second runs cold and without cylinder pressure.",
        "What pumps and fans take is in it. A friction that was read by turning the engine holds its pumping too.";
    "peak_pressure", "Peak cylinder pressure", "",
        "Greatest pressure in the cylinder over the cycle, absolute. Head, gasket, studs and bearings have to hold it.",
        "A cooled or flush pressure sensor in the cylinder, mean of a hundred cycles and the highest of them. A passage to the sensor rings and reads high.",
        "More boost raises it even when the torque does not rise, because compression starts higher. Single cycles stand above the mean.";
    "residual", "Residual gas", "",
        "Burnt gas of the last cycle in the charge that is trapped when the intake valves close, as a share of its mass.",
        "By sampling carbon dioxide from the cylinder during compression, or by a calculation from pressures and valve timing. It is seldom measured in a workshop.",
        "It takes the place of air and is hot. It grows when the exhaust stands above the intake, so air flow falls short of what the density promises.";
    "volumetric_efficiency", "Volumetric efficiency", "ηv",
        "Charge that enters the cylinders, over what fills the swept volume at the density of the intake manifold.",
        "From air flow, engine speed, and pressure and temperature of the manifold. Every error of those four enters in full.",
        "Counted from ambient density it is another number, far above one in a charged engine. It says how well the cylinder fills, not with how much air.";
    "displacement", "Displacement", "",
        "Swept volume of all cylinders.",
        "From bore, stroke and number of cylinders.",
        "Air follows from displacement only together with speed, density and volumetric efficiency.";

    "cooler_effectiveness", "Charge-cooler effectiveness", "", in "%",
        "Heat that the charge cooler takes, over what cooling the air down to the coolant's temperature takes.",
        "From three temperatures: air in, air out, coolant in. Stratified outlet air and a probe on warm metal spoil it.",
        "It falls as flow grows, so a value without its flow says little. A high one with a blocked core still costs pressure.";
    "cooler_heat", "Heat taken by the charge cooler", "",
        "Heat that the charge air gives to the charge cooler.",
        "Air flow times heat capacity times the temperature drop of the air; as a check, coolant flow times its rise. The coolant's rise is small and its error large.",
        "More heat can mean a better cooler or hotter air in front of it. It is lost work of the compressor, not a gain.";
    "coolant_heat", "Heat to the coolant", "",
        "Heat that the coolant carries away: from the cylinder walls, part of friction, and part of the exhaust ports.",
        "Coolant flow times density times heat capacity times temperature rise. A glycol mixture carries about a tenth less for each litre than water.",
        "It has to fit fuel, power and exhaust in the heat account. If it does not, the flow meter or a sensor is the first suspect, not the engine.";
    "coolant_rise", "Coolant rise", "ΔT",
        "How much warmer the coolant leaves the engine than it enters.",
        "Two matched thermometers close to inlet and outlet. With some kelvin between them, half a kelvin of mismatch is a tenth of the heat and more.",
        "A small rise can be a healthy pump or a sensor in still water. Half the rise at the same load means double the flow or a wrong reading, not half the heat.";
}

#[cfg(test)]
mod tests {
    use super::*;
    use volute_quantities::QUANTITIES;
    use volute_quantities::units::Reference;

    #[test]
    fn identity_every_name_leads_to_one_entry() {
        let mut names: Vec<&str> = ENTRIES.iter().flat_map(|e| e.also.iter().chain([&e.key])).copied().collect();
        for name in &names {
            assert!(name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_'), "{name}");
        }
        let all = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all);
        for e in ENTRIES {
            assert_eq!(entry(e.key).map(|found| found.name), Some(e.name));
        }
        assert!(entry("no such quantity").is_none());
    }

    #[test]
    fn identity_every_text_is_there_and_a_sentence() {
        for e in ENTRIES {
            assert!(!e.name.is_empty() && e.name.trim() == e.name, "{}", e.key);
            for text in [e.is, e.measured, e.misleads] {
                assert!(text.len() > 20 && text.ends_with('.'), "{}: {text}", e.key);
                assert!(text.trim() == text && !text.contains("  ") && !text.contains(".."), "{}: {text}", e.key);
                assert!(text.chars().next().is_some_and(char::is_uppercase), "{}: {text}", e.key);
                assert!(!text.contains(['!', '<', '&', '*', '`']), "{}: {text}", e.key);
            }
            assert!(e.is != e.measured && e.measured != e.misleads, "{}", e.key);
        }
    }

    /// Stations name what they show by the keys of quantities, since a lesson may cover them: all of these are explained.
    #[test]
    fn identity_every_quantity_that_is_shown_has_an_entry() {
        for quantity in QUANTITIES {
            assert!(entry(quantity.key).is_some(), "{}", quantity.key);
        }
        for headline in ["boost", "p3", "t3", "density", "pumping"] {
            assert!(entry(headline).is_some(), "{headline}");
        }
        for limit in crate::sample::hinders().limits {
            let key = limit_key(limit.name);
            assert_eq!(entry(key).map(|e| e.key), Some(key), "{:?}", limit.name);
        }
        for (name, limit) in volute_lessons::paths::LIMITS {
            assert!(entry(limit_key(*limit)).is_some(), "{name}");
        }
    }

    /// The unit beside a name is the one that the value is shown in: gauge and absolute never change places.
    #[test]
    fn identity_gauge_and_absolute_are_told_apart() {
        for e in ENTRIES {
            let told =
                |mark: &str| e.unit(UnitSystem::Si).ends_with(mark) || e.unit(UnitSystem::Customary).ends_with(mark);
            let reference = quantity(e.key).and_then(|quantity| quantity.reference());
            assert_eq!(told("gauge"), reference == Some(Reference::Gauge), "{}", e.key);
            assert_eq!(told("abs") || told("psia"), reference == Some(Reference::Absolute), "{}", e.key);
        }
    }

    #[test]
    fn by_hand_units_follow_the_switch() {
        let symbol = |key, units| entry(key).map(|e| e.unit(units));
        assert_eq!(symbol("p3", UnitSystem::Si), Some("kPa abs"));
        assert_eq!(symbol("p3", UnitSystem::Customary), Some("psia"));
        assert_eq!(symbol("bsfc", UnitSystem::Customary), Some("lb/(hp·h)"));
        assert_eq!(symbol("afr", UnitSystem::Si), Some(""));
    }
}
