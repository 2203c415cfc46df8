package patterns

// The path's kinds beside no signal, weak sync and noise. Priors are common practice, no source: stripes, hum and
// lost colour are what people complain of with composite outputs, the rest is rarer.
func init() {
	catalogue = append(catalogue, []Kind{
		{Name: "hum", Class: Signal, Prior: 0.02,
			Signs: "one or two wide bands, brighter or darker, that roll slowly over border and picture",
			Tests: []string{
				"try another power supply, and the machine and the display on one mains outlet (" + MainsCaution + ")",
				"measure ripple on the supply rails with an oscilloscope; look at the smoothing capacitors",
				"lift a ground loop: another cable, a battery-run capture device",
			}},
		{Name: "ringing", Class: Signal, Prior: 0.01,
			Signs: "faint repeats of each edge, close together and dying away",
			Tests: []string{
				"check the 75 ohm termination at the display, and the 75 ohm resistor in series with the output",
				"try a shorter cable",
				"look at an edge at the output with an oscilloscope, with the load connected: peaking coils and an unstable buffer ring",
			}},
		{Name: "low-bandwidth", Class: Signal, Prior: 0.01,
			Signs: "edges smeared to the right, fine detail grey, border and picture alike",
			Tests: []string{
				"try another cable and input: a damaged cable and a second load soften edges",
				"check that the output has a buffer; a tap before the modulator cannot drive 75 ohm",
				"look for a capacitor across the output that should not be there, or one of the wrong value",
			}},
		{Name: "ghost", Class: Signal, Prior: 0.006,
			Signs: "one displaced, weaker copy of the picture",
			Tests: []string{
				"check the termination: a cable open at one end reflects; 10 m of it come back after 100 ns",
				"try a short cable straight from the output",
				"check the 75 ohm resistor in series with the output",
			}},
		{Name: "fixed-bars", Class: Signal, Prior: 0.02,
			Signs: "upright stripes that stand still over border and picture",
			Tests: []string{
				"compare with a good machine of the same type on the same device: some stripes are the type's own",
				"check the supply decoupling of the encoder and the buffer: a rail that carries the clock draws its stripes",
				"move the output's wiring off the clock and bus lines, and give it a ground of its own",
			}},
		{Name: "interference", Class: Signal, Prior: 0.01,
			Signs: "a fine slanting or moving pattern of one frequency over border and picture",
			Tests: []string{
				"switch off what is near, and try another supply: converters run at tens to hundreds of kHz (" + MainsCaution + ")",
				"unplug the modulator or take its supply away where it is bypassed: its oscillator and sound carrier couple in",
				"look at the buffer's supply rail with an oscilloscope at the frequency that is given",
			}},
		{Name: "colour-lost", Class: Signal, Prior: 0.015,
			Signs: "the picture is good and grey: brightness of the colours without their chroma",
			Tests: []string{
				"check that device and machine are of the same standard: the wrong subcarrier loses colour and nothing else",
				"measure the burst at the output: 300 mV (625/50) or 286 mV (525/60) peak to peak, and its frequency",
				"look at the subcarrier crystal and its trimmer, and at the chroma path into the encoder",
			}},
		{Name: "hue-shift", Class: Signal, Prior: 0.008,
			Signs: "all colours are turned by the same angle, greys stay grey",
			Tests: []string{
				"set the device's hue to the middle and capture a good machine: the same error there is the device's",
				"look at burst phase and subcarrier trimmer at the encoder",
			}},
		{Name: "level-high", Class: Signal, Prior: 0.01,
			Signs: "picture too bright against sync, whites cut off",
			Tests: []string{
				"measure white against sync at the output with 75 ohm connected: 700 to 300 mV (625/50), 714 to 286 mV (525/60)",
				"check the resistor in series with the output and the termination: without them the level is up to twice as high",
				"check the gain resistors of the buffer",
			}},
		{Name: "level-low", Class: Signal, Prior: 0.01,
			Signs: "picture too dark and pale against sync",
			Tests: []string{
				"take a second load off the line: two terminations leave two thirds",
				"measure white against sync at the output with 75 ohm connected: 700 to 300 mV (625/50), 714 to 286 mV (525/60)",
				"check the video amplifier's gain and bias, and the resistors of the luma ladder",
			}},
		{Name: "clipping", Class: Signal, Prior: 0.006,
			Signs: "bright colours and white are cut at one level, dark ones are right",
			Tests: []string{
				"look at white at the output with an oscilloscope: a flat top is the amplifier's limit",
				"measure the supply and the bias of the output stage",
			}},
	}...)
}
